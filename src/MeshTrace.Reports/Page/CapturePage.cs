using System.Security.Cryptography;
using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>
/// The account as one page for a browser, a phone and paper: it asks for nothing from anywhere, reads without its script, and holds no octet of any key.
/// </summary>
public static class CapturePage
{
    private const int FilesNamed = 3;

    /// <summary>The parts, in their order: identifier and heading.</summary>
    internal static IReadOnlyList<(string Id, string Heading)> Parts { get; } =
    [
        ("summary", "Summary"), ("findings", "Findings"), ("presses", "Presses"), ("timeline", "Timeline"), ("hops", "Hops and relays"), ("repeats", "Repeats and channels"),
        ("transfers", "Transfers"), ("story", "Joining, setting up and changes"), ("heard", "How much was heard"), ("sheet", "Commissioning sheet"),
        ("method", "How this was concluded"), ("cautions", "Cautions"),
    ];

    /// <summary>Writes the page as UTF-8. The stream stays open.</summary>
    /// <exception cref="OperationCanceledException">Stopped.</exception>
    public static void Write(CaptureHistory history, Stream output, PageSettings settings, CancellationToken stop = default)
    {
        INames names = settings.Names ?? new NameBook(history);
        var account = new Account(history, names, settings.Vendor);
        using var text = new StreamWriter(output, new UTF8Encoding(false), bufferSize: 1 << 16, leaveOpen: true) { NewLine = "\n" };
        var markup = new Markup(text, names);
        var draft = new PageDraft(markup, account, stop);
        markup.Begin();
        markup.Open("html", ("lang", "en"));
        string title = Title(history);
        WriteHead(markup, title);
        markup.Open("body").Open("header").Element("h1", title).Close();
        WriteContents(markup);
        markup.Open("main");
        Part("summary", () => draft.Words(GlanceSection.Write, "Nothing can be told."));
        Part("findings", () => draft.Words(StandOutSection.Write, "Nothing can be found without a message that was opened."));
        Part("presses", () => PressPart.Write(draft));
        Part("timeline", () => TimelinePart.Write(draft));
        Part("hops", () => HopPart.Write(draft));
        Part("repeats", () => RepeatPart.Write(draft));
        Part("transfers", () => TransferPart.Write(draft));
        Part("story", () => StoryPart.Write(draft));
        Part("heard", () => HeardPart.Write(draft));
        Part("sheet", () => SheetPart.Write(draft));
        Part("method", () => MethodPart.Write(draft));
        Part("cautions", () => CautionPart.Write(draft));
        markup.Close();
        markup.Open("footer").Element("p", $"Written by MeshTrace {settings.ProgramVersion}. It holds no key; it does name nodes, groups and files.").Close();
        markup.Script();
        markup.Close().Close();

        void Part(string id, Action write) => draft.Part(id, Parts.First(part => part.Id == id).Heading, write, id == "sheet" ? "part sheet" : "part");
    }

    /// <summary>The policy that forbids the page everything but its own style sheet and its own script, which are named by their hashes.</summary>
    internal static string Policy { get; } =
        $"default-src 'none'; style-src '{Hash(PageStyle.Text)}'; script-src '{Hash(PageScript.Text)}'; img-src data:; base-uri 'none'; form-action 'none'";

    private static string Hash(string text) => "sha256-" + Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(text)));

    private static string Title(CaptureHistory history)
    {
        List<string> files = [.. history.Receivers.Select(receiver => receiver.File).Distinct()
            .Select(file => file == "-" ? "standard input" : SafeText.Strip(Path.GetFileName(file), 100)).Where(name => name.Length > 0)];
        return files.Count == 0 ? "What happened on a Bluetooth mesh network" : $"What happened on a Bluetooth mesh network: {Phrases.List(files, FilesNamed)}";
    }

    private static void WriteHead(Markup markup, string title)
    {
        markup.Open("head");
        markup.Empty("meta", ("charset", "utf-8"));
        markup.Empty("meta", ("http-equiv", "Content-Security-Policy"), ("content", Policy));
        markup.Empty("meta", ("name", "viewport"), ("content", "width=device-width, initial-scale=1"));
        markup.Empty("meta", ("name", "color-scheme"), ("content", "light dark"));
        markup.Empty("meta", ("name", "referrer"), ("content", "no-referrer"));
        // Without it a browser asks the server that the page may one day lie on.
        markup.Empty("link", ("rel", "icon"), ("href", "data:,"));
        markup.Element("title", title);
        markup.Style();
        markup.Close();
    }

    private static void WriteContents(Markup markup)
    {
        markup.Open("nav", ("aria-label", "Parts of this page")).Open("ul");
        foreach ((string id, string heading) in Parts)
            markup.Open("li").Element("a", heading, ("href", "#" + id)).Close();
        markup.Close().Close();
    }
}
