using System.Buffers.Binary;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Captures;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests;

/// <summary>Captures that are not what they should be: each ends with its exit code and a sentence, never with a stack trace.</summary>
public sealed class BadCaptureTests : IDisposable
{
    private const int PcapHeader = 24;
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void TruncatedAtEveryOctet_TellsWhatStandsBefore()
    {
        byte[] whole = Boathouse.Capture();
        int frames = Program.RunHere(["records", _folder.Write("whole.pcap", whole), .. Boathouse.Keys]).Ended(ExitCode.Fine).Records("frame").Count;
        int seen = 0, damaged = 0;
        for (int length = 0; length < whole.Length; length++)
        {
            string file = _folder.Write("cut.pcap", whole.AsSpan(0, length));
            Outcome outcome = Program.RunHere(["records", file, .. Boathouse.Keys]);
            Assert.NotEqual(ExitCode.Internal, outcome.Code);
            if (length < PcapHeader)
            {
                outcome.Ended(ExitCode.Unreadable);
                Assert.Contains("cut.pcap", outcome.Error, StringComparison.Ordinal);
                Assert.Empty(outcome.Output);
                continue;
            }
            // Between two records the file is a whole, shorter capture; inside a record it is damaged, and all records before are told.
            int told = outcome.Records("frame").Count(frame => frame.GetProperty("problem").GetString() != "truncated");
            Assert.True(told >= seen, $"at {length} octets fewer frames are told than at {length - 1}");
            seen = told;
            bool isDamaged = outcome.Records("contract").Single().GetProperty("damages").GetArrayLength() > 0;
            damaged += isDamaged ? 1 : 0;
            Assert.True(isDamaged == outcome.Error.Contains("damaged", StringComparison.Ordinal), $"at {length} octets");
            Assert.Contains(outcome.Code, isDamaged ? new[] { ExitCode.Damaged, ExitCode.NothingDecoded } : [ExitCode.Fine, ExitCode.NothingDecoded]);
            Program.RunHere(["explain", file, .. Boathouse.Keys]).Ended(outcome.Code);
        }
        Assert.Equal(frames - 1, seen);
        Assert.True(damaged > whole.Length - PcapHeader - (2 * frames), $"{damaged} of {whole.Length} lengths were told as damage");
    }

    [Theory]
    [InlineData("explain"), InlineData("records")]
    public void CutInTheLastRecord_AsAProcess(string command)
    {
        byte[] whole = Boathouse.Capture();
        Outcome outcome = Program.Run([command, _folder.Write("evening.pcap", whole.AsSpan(0, whole.Length - 5)), .. Boathouse.Keys]).Ended(ExitCode.Damaged);
        Assert.Contains("'", outcome.Error, StringComparison.Ordinal);
        Assert.Matches("evening.pcap.* is damaged at octet [0-9]+: ", outcome.Error);
        Assert.Contains("What to do:", outcome.Error, StringComparison.Ordinal);
        Assert.NotEmpty(outcome.Output);
    }

    [Fact]
    public void ZeroLength_IsRefused() =>
        Assert.Contains("empty", Program.Run("explain", _folder.Write("nothing.pcap", "")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);

    [Fact]
    public void Text_IsRefused() =>
        Assert.Contains("text", Program.Run("explain", _folder.Write("notes.txt", "18:00 pressed the entrance panel\n")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);

    [Fact]
    public void Directory_IsRefused() =>
        Assert.Contains("directory", Program.Run("records", Path.GetDirectoryName(_folder.File("x"))!).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);

    [Fact]
    public void Missing_IsRefused() =>
        Assert.Contains("there is no file", Program.Run("explain", _folder.File("lost.pcap")).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);

    [SkippableFact]
    public void Unreadable_IsRefused()
    {
        Skip.If(OperatingSystem.IsWindows(), "file modes are a matter of Unix");
        string file = _folder.Write("secret.pcap", Boathouse.Capture());
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(file, UnixFileMode.None);
        try
        {
            File.OpenRead(file).Dispose();
            Skip.If(true, "this user (root) may read every file");
        }
        catch (UnauthorizedAccessException)
        {
            // As it should be: now the program meets the same.
        }
        Assert.Contains("cannot be read", Program.Run("explain", file).Ended(ExitCode.Unreadable).Error, StringComparison.Ordinal);
    }

    [Fact]
    public void IncludedLengthOfAllOnes_IsDamage()
    {
        byte[] capture = Boathouse.Capture();
        BinaryPrimitives.WriteUInt32LittleEndian(capture.AsSpan(PcapHeader + 8), 0xFFFFFFFF);
        Outcome outcome = Program.Run(["records", _folder.Write("long.pcap", capture), .. Boathouse.Keys]).Ended(ExitCode.NothingDecoded);
        Assert.Contains("damaged at octet", outcome.Error, StringComparison.Ordinal);
        Assert.Single(outcome.Records("contract").Single().GetProperty("damages").EnumerateArray());
    }

    [Fact]
    public void OriginalLengthOfAllOnes_IsNotBelieved()
    {
        byte[] capture = Boathouse.Capture();
        BinaryPrimitives.WriteUInt32LittleEndian(capture.AsSpan(PcapHeader + 12), 0xFFFFFFFF);
        Outcome outcome = Program.Run(["records", _folder.Write("long.pcap", capture), .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Equal(5, outcome.Records("frame").Count);
        Assert.Equal(4, outcome.Records("flood").Count);
    }

    [Fact]
    public void PcapNgBlockLengthOfAllOnes_IsDamage()
    {
        // A section header block alone, then a block that claims 0xFFFFFFFF octets (pcapng: block type, total length, body, total length).
        byte[] section = Convert.FromHexString("0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000");
        byte[] block = Convert.FromHexString("06000000ffffffff00000000");
        Outcome outcome = Program.Run("explain", _folder.Write("long.pcapng", [.. section, .. block])).Ended(ExitCode.NothingDecoded);
        Assert.Contains("damaged at octet", outcome.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void ControlMessageWithoutParameters_AsTheFirstMessage_IsARecord()
    {
        using var air = new Air();
        air.Control(Boathouse.NetKey, ivIndex: 0, Boathouse.Panel, Boathouse.Lamp, seq: 1, ttl: 3, 0x3F);
        Outcome outcome = Program.Run(["records", _folder.Write("first.pcap", air.ToArray()), .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Equal("", Assert.Single(outcome.Records("message")).GetProperty("payload").GetString());
    }

    [Fact]
    public void WithoutMesh_SaysSo()
    {
        using var air = new Air();
        for (int i = 0; i < 20; i++)
            air.Advertise(MeshTrace.Protocol.Bearer.AdType.Flags, [0x06]);
        Outcome outcome = Program.Run("explain", _folder.Write("quiet.pcap", air.ToArray())).Ended(ExitCode.NothingDecoded);
        Assert.Contains("No Bluetooth mesh traffic in 20 frames", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("No Bluetooth mesh traffic", outcome.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void OnlyUnknownNetworks_AreNamedByNid()
    {
        string file = _folder.Write("neighbours.pcap", Boathouse.Capture());
        Outcome outcome = Program.Run("explain", file).Ended(ExitCode.NothingDecoded);
        Assert.Matches("No network key was given, so none of 4 mesh PDUs could be opened. NIDs seen were 0x[0-9a-f]{2} \\(4 frames\\)", outcome.Error);
        Assert.All(Program.RunHere("records", file).Ended(ExitCode.NothingDecoded).Records("frame").Where(frame => frame.GetProperty("carries")[0].GetString() == "meshMessage"),
            frame => Assert.Equal("unknown-network", frame.GetProperty("problem").GetString()));
    }

    [Fact]
    public void WrongKeys_SayWhatToCheck()
    {
        string file = _folder.Write("evening.pcap", Boathouse.Capture());
        Outcome outcome = Program.Run("explain", file, "--net-key", "ffffffffffffffffffffffffffffffff").Ended(ExitCode.NothingDecoded);
        Assert.Contains("None of 4 mesh PDUs authenticated with these keys. NIDs seen were 0x", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("the given keys have NID 0x", outcome.Error, StringComparison.Ordinal);
        Assert.Contains("Check that the key", outcome.Error, StringComparison.Ordinal);
        Assert.DoesNotContain("ffffffff", outcome.Error + outcome.Output, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public void TwoNetworksWithTheSameNid_AreBothOpened()
    {
        byte[] other = KeyWithTheSameNid(Boathouse.NetKey);
        using var air = new Air();
        Boathouse.Story(air, Boathouse.NetKey);
        Boathouse.Story(air, other);
        string file = _folder.Write("both.pcap", air.ToArray());
        Outcome outcome = Program.Run(["records", file, .. Boathouse.Keys, "--net-key", "1=" + Convert.ToHexStringLower(other)]).Ended(ExitCode.Fine);
        Assert.Equal([0, 0, 0, 0, 1, 1, 1, 1], outcome.Records("flood").Select(flood => flood.GetProperty("netKeyIndex").GetInt32()).Order());

        // With one key, the other network stays unknown, and the first is not disturbed by it.
        Outcome one = Program.Run(["records", file, .. Boathouse.Keys]).Ended(ExitCode.Fine);
        Assert.Equal(4, one.Records("flood").Count);
        Assert.Equal(4, one.Records("frame").Count(frame => frame.GetProperty("problem").GetString() == "unknown-network"));
    }

    /// <summary>NID has 7 bits, so about one key of 128 shares it.</summary>
    private static byte[] KeyWithTheSameNid(byte[] key)
    {
        byte nid = Protocol.Security.NetworkCredentials.Flooding(key).Nid;
        byte[] other = [.. key];
        do
        {
            BinaryPrimitives.WriteUInt32BigEndian(other.AsSpan(12), BinaryPrimitives.ReadUInt32BigEndian(other.AsSpan(12)) + 1);
        }
        while (Protocol.Security.NetworkCredentials.Flooding(other).Nid != nid);
        return other;
    }
}
