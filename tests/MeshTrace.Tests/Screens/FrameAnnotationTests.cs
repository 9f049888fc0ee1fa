using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Octets;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

public sealed class FrameAnnotationTests
{
    [Theory, InlineData("library"), InlineData("boathouse")]
    public void EveryOctetOfAFrame_StandsInExactlyOneLine(string demo)
    {
        Workspace workspace = Demo.Settled(demo);
        using FrameStore store = Demo.FramesAtOnce();
        for (int frame = 0; frame < workspace.History.Frames.Count; frame += 7)
        {
            FrameOctets octets = Found(store, workspace.History, frame);
            int next = 0;
            foreach (OctetLine line in FrameAnnotation.Of(workspace.Account, octets))
            {
                if (line.At is not { } at || line.Octets.Length == 0)
                    continue;
                Assert.Equal(next, at);
                Assert.Equal(octets.Octets.AsSpan(at, line.Octets.Length).ToArray(), line.Octets);
                next = at + line.Octets.Length;
            }
            Assert.Equal(octets.Octets.Length, next);
        }
    }

    [Fact]
    public void AnOpenedPress_IsToldFromLinkToAccess()
    {
        Workspace workspace = Demo.Settled();
        using FrameStore store = Demo.FramesAtOnce();
        int frame = FirstFrame.OfMessage(workspace.History, workspace.History.Presses[1].Messages[0])!.Value;
        IReadOnlyList<OctetLine> lines = FrameAnnotation.Of(workspace.Account, Found(store, workspace.History, frame));
        Assert.Equal(["link", "bearer", "network", "lower transp.", "upper transp.", "access"], lines.Select(line => line.Layer).Distinct());
        Assert.Contains(lines, line => line is { Field: "SRC", Reads: "entrance panel (0x0002)" });
        Assert.Contains(lines, line => line is { Field: "DST", Reads: "Reading room (0xC001)" });
        Assert.Contains(lines, line => line is { Field: "Opcode" } && line.Reads.StartsWith("Generic OnOff Set", StringComparison.Ordinal));
        Assert.Contains(lines, line => line is { Layer: "access", Field: "OnOff" });
        Assert.Contains(lines, line => line is { Field: "SEQ" } && line.Reads == $"{workspace.History.Messages[workspace.History.Presses[1].Messages[0]].Seq}");
    }

    [Fact]
    public void KeysHandedOut_AreNotShown()
    {
        Workspace workspace = Demo.Settled("boathouse");
        using FrameStore store = Demo.FramesAtOnce();
        string[] keys = [.. ScreenModelTests.KeysOf(workspace.History)];
        bool handedOut = false;
        for (int frame = 0; frame < workspace.History.Frames.Count; frame++)
        {
            if (workspace.History.FloodOf(frame) is null)
                continue;
            IReadOnlyList<OctetLine> lines = FrameAnnotation.Of(workspace.Account, Found(store, workspace.History, frame));
            handedOut |= lines.Any(line => line.Reads == "a key: not shown");
            string shown = string.Concat(lines.Select(line => Convert.ToHexStringLower(line.Octets))) + string.Concat(lines.Select(line => line.Reads));
            Assert.All(keys, key => Assert.DoesNotContain(key, shown, StringComparison.OrdinalIgnoreCase));
        }
        Assert.True(handedOut, "the demo hands out an application key");
    }

    [Fact]
    public void AFileThatIsGone_IsTold()
    {
        DirectoryInfo folder = Directory.CreateTempSubdirectory("meshtrace-");
        string copy = Path.Combine(folder.FullName, "gone.pcapng");
        File.Copy(Demo.Capture("boathouse"), copy);
        var analysis = new CaptureAnalysis(new AnalysisSettings());
        using (IFrameSource source = CaptureFile.Open(copy))
            analysis.Read(source);
        CaptureHistory history = analysis.Complete();
        folder.Delete(recursive: true);
        using FrameStore store = Demo.FramesAtOnce();
        store.Find(history, 0, out _);
        Assert.Null(store.Find(history, 0, out string? problem));
        Assert.Contains("gone.pcapng", problem, StringComparison.Ordinal);
    }

    private static FrameOctets Found(FrameStore store, CaptureHistory history, int frame)
    {
        FrameOctets? found = store.Find(history, frame, out string? problem) ?? store.Find(history, frame, out problem);
        Assert.True(found is not null, problem);
        return found;
    }
}
