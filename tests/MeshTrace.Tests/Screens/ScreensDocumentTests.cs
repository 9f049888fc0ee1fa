using System.Text;
using MeshTrace.Screens;
using MeshTrace.Tests.Architecture;
using MeshTrace.Tests.Screens.Support;
using Terminal.Gui.Input;

namespace MeshTrace.Tests.Screens;

/// <summary>docs/screens.md: real pictures of the screens over the demo, made by this test on request and compared with what the screens show now.</summary>
public sealed class ScreensDocumentTests
{
    private const string Regenerate = "MESHTRACE_WRITE_SCREENS";

    private static readonly (string Keys, string Demo, string Says)[] Pictures =
    [
        ("", "library", "**Presses** answers *which presses were lost, and why?* It comes first and opens on the first lost press. `NONE`, `PART`, `OK` and `?` say the fate without colour; below stands the account of the selected press with its findings, what to do, and what each lamp did."),
        ("2n", "library", "**Timelines** answers *who did what when?* A lane a node, time across: `!` is a press in vain, `P` a press, `a` an answer, `·` a relayed PDU. `+` and `-` zoom around the cursor down to a millisecond, `n` jumps to the next fault, and the band on top shows with `x` where no receiver listened."),
        ("n\r", "library", "**Hops** answers *how did this press spread, and where did it end?* `n` and Enter lead here from the start. The tree names who sent each copy, as far as that can be said, and the line `END` where the flood stopped; silent lamps follow with the step of the receive procedure that rejects the message there."),
        ("3g", "library", "The same screen with `g`: who relays for whom over the whole capture."),
        ("4", "library", "**Repeats** answers *does each node repeat as often as it is set to?* Counts are transmissions; the wire counts retransmissions, one less."),
        ("5", "boathouse", "**Transfers** answers *which segmented messages arrived, and who stalled?* `o` is a segment heard first, `r` heard again. It opens on the first transfer that was not acknowledged as a whole, and `n` goes to the next."),
        ("5^", "boathouse", "A transfer that was delayed and ended well: `a` is an acknowledgment of some segments, which asks for the others, `A` of all."),
        ("6", "library", "**Network** answers *what is this network made of?* Nodes, groups, keys (by index and name, never their octets), beacons, devices that join, and what no key opens."),
        ("x", "library", "**Octets** answers *what stands in this frame?* from the link layer to the access layer. `=` marks octets that are not in the frame as they stand here: deobfuscated, decrypted or put together from segments. `x` leads here from any screen."),
        ("og", "library", "Narrowed with `o` and `g` to one group: the second line says so on every screen until `u`."),
        ("?", "library", "Help: the keys and marks of the screen in front."),
    ];

    [Fact]
    public void TheDocument_ShowsEveryScreen()
    {
        string path = Path.Combine(Repository.Root, "docs", "screens.md");
        if (Environment.GetEnvironmentVariable(Regenerate) == "1")
            File.WriteAllText(path, Make());
        string found = File.ReadAllText(path), made = Make();
        string[] differing = [.. made.Split('\n').Zip(found.Split('\n')).Where(pair => pair.First != pair.Second).Take(3).Select(pair => $"now: {pair.First}\nwas: {pair.Second}")];
        Assert.True(found == made, $"docs/screens.md is not what the screens show: make it again with {Regenerate}=1 dotnet test tests/MeshTrace.Tests --filter ScreensDocument\n{string.Join('\n', differing)}");
        Browser browser = Demo.Browse(Demo.Settled());
        for (int screen = 0; screen < browser.Screens.Count; screen++)
            Assert.Contains($"[{screen + 1} {browser.Screens[screen].Name}]", found, StringComparison.Ordinal);
        Assert.All(found.Split('\n').Where(line => line.StartsWith("[1 ", StringComparison.Ordinal) || line.StartsWith(" 1 ", StringComparison.Ordinal)), line => Assert.True(line.Length <= 80, line));
    }

    private static string Make()
    {
        var text = new StringBuilder(
            $"""
            # The screens

            `meshtrace browse CAPTURE... --network FILE` shows a capture in a terminal of at least 80 columns and 24 lines, one screen for each question. It opens at once and
            fills in while it reads. `?` lists the keys, `1` to `7` change the screen, Enter goes deeper, Esc back, `q` leaves. The mouse works too.

            The pictures are real: 80 x 24, from the demo captures. Make them again with
            `{Regenerate}=1 dotnet test tests/MeshTrace.Tests --filter ScreensDocument`.

            """);
        foreach ((string keys, string demo, string says) in Pictures)
        {
            using var stage = new Stage(Demo.Browse(Demo.Settled(demo)), 80, 24);
            foreach (char key in keys)
                stage.Press(key switch { '\r' => Key.Enter, '^' => Key.Home, _ => new Key(key) });
            text.Append($"\n{says}\n\n```text\n{stage.Text().TrimEnd('\n')}\n```\n");
        }
        return text.ToString();
    }
}
