using System.Diagnostics;
using System.Text;
using MeshTrace.Captures.Files;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;
using MeshTrace.Protocol.Link;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>The running account: pipes, growing files, and everything that can happen to them.</summary>
public sealed class ReceiveTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    /// <summary>The boathouse has two receivers whose clocks differ: aligned at the end as in a file.</summary>
    [SkippableFact]
    public void APipeAtTwentyTimesRealTime_GivesTheRecordsOfTheFile()
    {
        Skip.IfNot(Pipe.Exists, "no named pipes here");
        string pipe = Pipe.Make(_folder.File("boathouse")), records = _folder.File("live.jsonl"), kept = _folder.File("kept.pcapng");
        using var live = new Receiving("--from", pipe, "--network", Repository.Demo("boathouse.network.json"), "--records", records, "--keep", kept);
        WritePaced(pipe, File.ReadAllBytes(Repository.Demo("boathouse.pcapng")), times: 20);
        Outcome outcome = live.Ended().Ended(ExitCode.Fine);

        string offline = Program.Run("records", Repository.Demo("boathouse.pcapng"), "--network", Repository.Demo("boathouse.network.json")).Ended(ExitCode.Fine).Output;
        Assert.Equal(Renamed(offline, Repository.Demo("boathouse.pcapng")), Renamed(File.ReadAllText(records), pipe));
        string ofKept = Program.Run("records", kept, "--network", Repository.Demo("boathouse.network.json")).Ended(ExitCode.Fine).Output;
        Assert.Equal(Renamed(offline, Repository.Demo("boathouse.pcapng")), Renamed(ofKept, kept));
        Assert.Contains("OK    press 2: door panel, jetty > Jetty, on: 1 of 1", outcome.Output, StringComparison.Ordinal);
        Assert.Contains("4,521 frames, 3 presses", outcome.Output, StringComparison.Ordinal);
        Assert.Contains("4,521 frames saved", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("has ended: what came until then is analysed", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void StandardInput_AtFullSpeed_GivesTheRecordsOfTheFile()
    {
        string records = _folder.File("live.jsonl");
        using var live = new Receiving("--from", "-", "--network", Repository.Demo("library.network.json"), "--records", records, "--history", "1440");
        live.Input.Write(File.ReadAllBytes(Repository.Demo("library.pcapng")));
        live.Input.Close();
        Outcome outcome = live.Ended().Ended(ExitCode.Fine);
        string offline = Program.Run("records", Repository.Demo("library.pcapng"), "--network", Repository.Demo("library.network.json")).Ended(ExitCode.Fine).Output;
        Assert.Equal(Renamed(offline, Repository.Demo("library.pcapng")), Renamed(File.ReadAllText(records), "-"));
        Assert.DoesNotContain("\e", outcome.Output + outcome.Error, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void TwoPipes_AreTwoReceivers_WithTheRecordsOfTwoFiles()
    {
        Skip.IfNot(Pipe.Exists, "no named pipes here");
        string one = Pipe.Make(_folder.File("one")), other = Pipe.Make(_folder.File("other")), records = _folder.File("live.jsonl");
        byte[] capture = Boathouse.Capture();
        string first = _folder.Write("first.pcap", capture), second = _folder.Write("second.pcap", capture);
        using var live = new Receiving(["--from", one, "--from", other, "--records", records, .. Boathouse.Keys]);
        using (FileStream ones = Pipe.Open(one), others = Pipe.Open(other))
        {
            ones.Write(capture);
            others.Write(capture);
        }
        live.Ended().Ended(ExitCode.Fine);
        string offline = Program.Run(["records", first, second, .. Boathouse.Keys]).Ended(ExitCode.Fine).Output;
        Assert.Equal(Renamed(Renamed(offline, first), second), Renamed(Renamed(File.ReadAllText(records), one), other));
    }

    [SkippableFact]
    public void AKilledWriter_LeavesWhatCame_AndIsSaid()
    {
        Skip.IfNot(Pipe.Exists, "no named pipes here");
        string pipe = Pipe.Make(_folder.File("killed")), capture = _folder.Write("evening.pcap", Boathouse.Capture()), kept = _folder.File("kept.pcapng");
        int length = Boathouse.Capture().Length;
        using var live = new Receiving(["--from", pipe, "--keep", kept, .. Boathouse.Keys]);
        // The writer gives all but the last three octets, then waits until it is killed.
        using Process writer = Process.Start("sh", ["-c", $"(head -c {length - 3} '{capture}'; exec sleep 60) > '{pipe}' & echo $! > '{_folder.File("pid")}'; wait"]);
        live.WaitFor("receiving from");
        WaitForLength(kept, 100);
        using (Process kill = Process.Start("sh", ["-c", $"kill -9 $(cat '{_folder.File("pid")}')"]))
            kill.WaitForExit();
        Outcome outcome = live.Ended().Ended(ExitCode.Damaged);
        writer.WaitForExit();
        Assert.Contains("has ended, in the middle of a record", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("5 frames", outcome.Output, StringComparison.Ordinal);
        Assert.Equal(5, Program.RunHere(["records", kept, .. Boathouse.Keys]).Ended(ExitCode.Fine).Records("frame").Count);
    }

    [SkippableFact]
    public void CtrlC_IsTheUsualEnd_EverythingIsSaved()
    {
        Skip.IfNot(Pipe.Exists, "no signals here");
        foreach (string signal in (string[])["INT", "TERM", "HUP"])
        {
            string growing = _folder.Write("growing" + signal, Boathouse.Capture()), kept = _folder.File(signal + ".pcapng");
            using var live = new Receiving(["--from", growing, "--keep", kept, .. Boathouse.Keys]);
            WaitForLength(kept, 100);
            Outcome outcome = live.Interrupt(signal).Ended(ExitCode.Fine);
            Assert.Contains("End of the account: 5 frames, 2 presses", outcome.Output, StringComparison.Ordinal);
            Assert.Equal(2, Program.RunHere(["records", kept, .. Boathouse.Keys]).Ended(ExitCode.Fine).Records("press").Count);
            Program.RunHere(["explain", kept, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        }
    }

    [SkippableFact]
    public void CtrlC_EndsItWhileItWaitsForAWriter()
    {
        Skip.IfNot(Pipe.Exists, "no named pipes here");
        using var live = new Receiving(["--from", Pipe.Make(_folder.File("nobody")), .. Boathouse.Keys]);
        live.WaitFor("receiving from");
        Assert.Contains("not one frame came", live.Interrupt().Ended(ExitCode.NothingDecoded).Error, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void ARotatedFile_IsSaid_AndGoneOnWith()
    {
        Skip.IfNot(Pipe.Exists, "no signals here");
        string growing = _folder.Write("growing.pcap", Boathouse.Capture()), kept = _folder.File("kept.pcapng");
        using var live = new Receiving(["--from", growing, "--keep", kept, .. Boathouse.Keys]);
        WaitForLength(kept, 100);
        File.Move(growing, growing + ".1");
        using (var air = new Air())
        {
            air.Wait(60).Access(Boathouse.NetKey, Boathouse.AppKey, Boathouse.IvIndex, Boathouse.Panel, Boathouse.Lamp, seq: 200, ttl: 4, [0x82, 0x02, 0x01, 0x44]);
            _folder.Write("growing.pcap", air.ToArray());
        }
        live.WaitFor("was replaced by another file, or began anew");
        live.WaitFor("press 3: ");      // told by the clock, although nothing comes any more
        Outcome outcome = live.Interrupt().Ended(ExitCode.Fine);
        Assert.Contains("6 frames, 3 presses", outcome.Output, StringComparison.Ordinal);
        Assert.Equal(3, Program.RunHere(["records", kept, .. Boathouse.Keys]).Ended(ExitCode.Fine).Records("press").Count);
    }

    [Fact]
    public void AFileReplacedByWhatIsNoCapture_EndsIt_AndWhatCameIsToldAll()
    {
        string growing = _folder.Write("growing.pcap", Boathouse.Capture()), kept = _folder.File("kept.pcapng"), records = _folder.File("live.jsonl");
        using var live = new Receiving(["--from", growing, "--keep", kept, "--records", records, .. Boathouse.Keys]);
        WaitForLength(kept, 100);
        string noise = _folder.Write("noise", new byte[] { 1, 2, 3, 4, 5, 6, 7, 8, 9 });
        File.Move(noise, growing, overwrite: true);
        Outcome outcome = live.Ended().Ended(ExitCode.Unreadable);
        Assert.Contains("was replaced by another file", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("is no capture that can be read", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("End of the account: 5 frames, 2 presses", outcome.Output, StringComparison.Ordinal);
        Assert.Contains("\"record\":\"press\"", File.ReadAllText(records), StringComparison.Ordinal);
    }

    [SkippableFact]
    public void AFullDisk_IsSaid_AndReceivingGoesOn()
    {
        Skip.IfNot(File.Exists("/dev/full"), "no /dev/full here");
        using var live = new Receiving(["--from", "-", "--keep", "/dev/full", "--overwrite", .. Boathouse.Keys]);
        live.Input.Write(Boathouse.Capture());
        live.Input.Flush();
        live.WaitFor("'/dev/full' cannot be written any more");
        live.Input.Close();
        Outcome outcome = live.Ended().Ended(ExitCode.Unwritable);
        Assert.Contains("2 presses", outcome.Output, StringComparison.Ordinal);
        Assert.Contains("receiving goes on without saving", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void UntilQuiet_EndsIt_AndAPartialRecordIsNoDamage()
    {
        byte[] capture = Boathouse.Capture();
        string growing = _folder.Write("growing.pcap", capture.AsSpan(0, capture.Length - 3));
        Outcome outcome = Program.Run(["receive", "--from", growing, "--until-quiet", "0.5", .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Contains("nothing has come for 0.5 s", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("4 frames, 2 presses", outcome.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void ATextLog_IsKeptAsItIs()
    {
        string kept = _folder.File("kept.log");
        byte[] log = Encoding.UTF8.GetBytes("18:00:01 begins\n18:00:02 TX network pdu 68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df\n");
        Outcome outcome = Program.Run(["receive", "--from", "-", "--keep", kept], log).Ended(ExitCode.NothingDecoded);
        Assert.Equal(log, File.ReadAllBytes(kept));
        Assert.Contains("2 frames", outcome.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void AnAcceptedButUnusableInput_IsAnError()
    {
        Assert.Contains("no capture", Program.Run(["receive", "--from", _folder.Write("noise", new byte[] { 1, 2, 3, 4, 5, 6, 7, 8 })]).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
        Assert.Contains("there is no file", Program.Run(["receive", "--from", _folder.File("missing")]).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("nothing is named to receive from")]
    [InlineData("twice", "--from", "a", "--from", "a")]
    [InlineData("--history is no length", "--from", "a", "--history", "0.5")]
    [InlineData("--until-quiet is no time", "--from", "a", "--until-quiet", "0")]
    [InlineData("--from names nothing", "--from", "")]
    [InlineData("--interface names", "--interface", "a", "--interface", "a")]
    [InlineData("--keep names no file", "--from", "a", "--keep", "")]
    public void WrongOptions_AreRefused(string says, params string[] typed) =>
        Assert.Contains(says, Program.RunHere(["receive", .. typed]).Ended(ExitCode.Usage).Error, StringComparison.Ordinal);

    [Fact]
    public void WhatIsSaved_IsNeverAnInput_NorWhatStandsThere()
    {
        string capture = _folder.Write("evening.pcap", Boathouse.Capture()), there = _folder.Write("there", "something");
        Assert.Contains("--keep names", Program.RunHere(["receive", "--from", capture, "--keep", capture, "--overwrite"]).Ended(ExitCode.Usage).Error, StringComparison.Ordinal);
        Program.RunHere(["receive", "--from", capture, "--keep", there]).Ended(ExitCode.Unwritable);
        Program.RunHere(["receive", "--from", capture, "--records", there]).Ended(ExitCode.Unwritable);
        Assert.Equal("something", File.ReadAllText(there));
    }

    private static string Renamed(string records, string name) => records.Replace($"\"file\":{System.Text.Json.JsonSerializer.Serialize(name)}", "\"file\":\"it\"", StringComparison.Ordinal);

    private static void WaitForLength(string file, long length)
    {
        var clock = Stopwatch.StartNew();
        while (!File.Exists(file) || new FileInfo(file).Length < length)
        {
            Assert.True(clock.ElapsedMilliseconds < 60_000, $"nothing came into {file}");
            Thread.Sleep(50);
        }
    }

    /// <summary>Writes a pcapng file into a pipe, each frame when its time has come.</summary>
    private static void WritePaced(string pipe, byte[] capture, int times)
    {
        var begins = new List<(long Offset, long TimeNs)>();
        using (IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "paced"))
            while (source.TryReadNext(out CapturedFrame frame))
                begins.Add((frame.FileOffset, frame.TimeNs));
        long firstNs = begins[0].TimeNs;
        using FileStream stream = Pipe.Open(pipe);
        var clock = Stopwatch.StartNew();
        int written = 0;
        foreach ((long offset, long timeNs) in begins.Skip(1))
        {
            int end = (int)offset;
            stream.Write(capture, written, end - written);
            written = end;
            var due = TimeSpan.FromTicks((timeNs - firstNs) / 100 / times);
            if (due > clock.Elapsed)
                Thread.Sleep(due - clock.Elapsed);
        }
        stream.Write(capture, written, capture.Length - written);
    }
}
