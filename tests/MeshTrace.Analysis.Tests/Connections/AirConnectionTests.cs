using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.Connections;

/// <summary>Connections recorded from the air: followed from CONNECT_IND, with retransmissions, losses, wrong CRCs and encryption.</summary>
public sealed class AirConnectionTests
{
    private static readonly PhoneSetup Setup = PhoneSetup.Compose();

    public static TheoryData<int> LinkTypes => [256, 272];

    [Theory, MemberData(nameof(LinkTypes))]
    public void WholeRecording_GivesTheWholeStory(int linkType)
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = new LinkType(linkType) }, out _);
        CheckStory(history);
        Assert.Equal(3, history.Connections.Count);
        Assert.All(history.Connections, connection => Assert.Equal((PhoneSetup.PhoneAddress, true, 30.0, (byte?)0x16, LinkEncryption.None, 69),
            (connection.Central!.Value, connection.BeginHeard, connection.IntervalMs!.Value, connection.EndReason, connection.Encryption, connection.Mtu!.Value)));
        Assert.All(history.Connections, connection => Assert.Equal((0, 0, 0), (connection.Counts.BadCrc, connection.Counts.Gaps, connection.Counts.FramesLost)));
        Assert.Equal(Setup.Nodes.Select(node => node.DeviceUuid), history.Provisionings.Select(link => link.DeviceUuid!.Value));
        Assert.Equal(MeshRecognition.Discovered, history.Connections[2].Proxy);
    }

    /// <summary>A third of the packets is sent again: each is taken once.</summary>
    [Theory, MemberData(nameof(LinkTypes))]
    public void Retransmissions_AreTakenOnce(int linkType)
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = new LinkType(linkType), Retransmitted = 0.33 }, out _);
        CheckStory(history);
        Assert.All(history.Connections, connection => Assert.True(connection.Counts.Repeated > 10));
        Assert.All(Enumerable.Range(0, history.Floods.Count), row => Assert.Equal(1, history.CopiesOf(row).Length));
        Assert.All(history.Provisionings, link => Assert.Equal(11, link.Pdus.Count));
    }

    /// <summary>The begin was missed: CRCInit is found by running the CRC backward, and the services by their content.</summary>
    [Fact]
    public void MissedBegin_IsFollowedAllTheSame()
    {
        CaptureHistory history = Analyse(new AirRecording { MissesBegin = true }, out _);
        CheckStory(history);
        Assert.All(history.Connections, connection => Assert.Equal((false, (ulong?)null, (double?)null), (connection.BeginHeard, connection.Central, connection.IntervalMs)));
        Assert.True(history.Connections[2].FilterAt(0) is { IsCertain: false });
    }

    /// <summary>Link type 251 tells neither channel nor direction nor whether a CRC is right: what is whole in one packet is read all the same.</summary>
    [Fact]
    public void WithoutDirection_FramesOfOnePacketAreRead()
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = LinkType.LeLinkLayer }, out _);
        Assert.Equal(3, history.Connections.Count);
        Assert.True(history.Connections[2].Counts.AttributePdus > 10);
        Assert.True(history.Connections[2].Counts.FramesLost > 0);
    }

    /// <summary>A sixth of the packets is recorded with a wrong CRC: counted, and never decoded.</summary>
    [Theory, InlineData(256, 3), InlineData(272, 4), InlineData(251, 5)]
    public void BadCrc_IsCountedAndNeverDecoded(int linkType, int seed)
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = new LinkType(linkType), BadCrc = 1 / 6.0, Seed = seed }, out AirCaptureWriter air);
        Assert.Equal(air.BadCrcRecorded, history.Connections.Sum(connection => connection.Counts.BadCrc));
        int badFrames = 0;
        for (int row = 0; row < history.Frames.Count; row++)
        {
            if (history.Frames[row].Crc != CrcState.Bad)
                continue;
            badFrames++;
            Assert.Equal((Carries.Connection, FrameProblem.BadCrc, null), (history.Frames[row].Carries, history.Frames[row].Problem, history.FloodOf(row)));
        }
        Assert.Equal(air.BadCrcRecorded, badFrames);
        AssertNothingWrong(history);
    }

    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, 60)];

    /// <summary>Whatever is missed of the recording: every provisioning PDU and every Network PDU that is given was sent, and is given once.</summary>
    [Theory, MemberData(nameof(Seeds))]
    public void Losses_NeverGiveAWrongPdu_NorOneTwice(int seed)
    {
        var random = new Random(seed);
        CaptureHistory history = Analyse(new AirRecording
        {
            LinkType = new LinkType(seed % 2 == 0 ? 256 : 272), Missed = random.NextDouble() * 0.6, BadCrc = random.NextDouble() * 0.2, Retransmitted = random.NextDouble() * 0.3,
            MissesBegin = seed % 5 == 0, Seed = seed,
        }, out _);
        AssertNothingWrong(history);
        AssertNothingTwice(history);
    }

    /// <summary>As a receiver records a phone beside it: a sixth damaged, some sent again.</summary>
    [Theory, MemberData(nameof(Seeds))]
    public void DamageAndRetransmissions_GiveNoPduTwice(int seed)
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = new LinkType(seed % 2 == 0 ? 256 : 272), BadCrc = 1 / 6.0, Retransmitted = 0.2, Seed = seed }, out _, withNetKey: true);
        AssertNothingWrong(history);
        Assert.True(history.Floods.Count > 5);
        AssertNothingTwice(history);
    }

    [Theory, MemberData(nameof(LinkTypes))]
    public void Encrypted_IsToldAndLeftAlone(int linkType)
    {
        CaptureHistory history = Analyse(new AirRecording { LinkType = new LinkType(linkType), Encrypts = true }, out _);
        Assert.All(history.Connections, connection => Assert.Equal((LinkEncryption.Encrypted, MeshRecognition.None, MeshRecognition.None, 0),
            (connection.Encryption, connection.Proxy, connection.Provisioning, connection.Counts.AttributePdus)));
        Assert.All(history.Connections, connection => Assert.True(connection.Counts.Encrypted > 20));
        Assert.Equal((0, 0, 0), (history.Floods.Count, history.Provisionings.Count, history.DistinctNetworkPdus));
    }

    [Fact]
    public void EncryptedBeforeTheRecording_LooksSo()
    {
        // The begin and the first second are cut off: nothing tells of encryption but that nothing reads.
        using var capture = new MemoryStream();
        AirCaptureWriter.Write(capture, [Setup.Connections[2]], new AirRecording { Encrypts = true, MissesBegin = true });
        var frames = new Support.FrameList();
        capture.Position = 0;
        using (IFrameSource source = CaptureFile.Open(capture, "air"))
        {
            long first = long.MinValue;
            while (source.TryReadNext(out CapturedFrame frame))
            {
                first = first == long.MinValue ? frame.TimeNs : first;
                if (frame.TimeNs > first + 1_000_000_000)
                    frames.Add(frame.TimeNs, frame.Octets.ToArray(), frame.LinkType);
            }
        }
        var analysis = new CaptureAnalysis(new AnalysisSettings());
        analysis.Read(frames);
        ConnectionRecord connection = Assert.Single(analysis.Complete().Connections);
        Assert.Equal(LinkEncryption.LooksEncrypted, connection.Encryption);
    }

    private static void CheckStory(CaptureHistory history)
    {
        Assert.All(history.Provisionings, link => Assert.Equal((ProvisioningOutcome.Complete, true), (link.Outcome, link.KeysLearnt)));
        Assert.Equal((2, 8, 4), (history.Provisionings.Count, history.Configuration!.Changes.Count, history.Presses.Count));
        Assert.All(history.Presses, press => Assert.Equal(2, press.Answers.Count));
    }

    /// <summary>Compares with a recording of the same story in which nothing is missing.</summary>
    private static void AssertNothingWrong(CaptureHistory history)
    {
        HashSet<string> sent = [.. AllPdus(Analyse(new AirRecording(), out _))];
        Assert.All(AllPdus(history), pdu => Assert.Contains(pdu, sent));
    }

    /// <summary>No PDU of this story is like another, so one that comes twice was sent again by the link layer.</summary>
    private static void AssertNothingTwice(CaptureHistory history)
    {
        List<string> pdus = [.. history.Provisionings.SelectMany(link => link.Pdus.Select(pdu => $"{link.Connection} {Convert.ToHexString(pdu.Octets)}"))];
        Assert.Equal(pdus.Distinct(), pdus);
        Assert.Equal(history.Provisionings.Count, history.Provisionings.Select(link => link.Connection).Distinct().Count());
        Assert.All(Enumerable.Range(0, history.Floods.Count), row => Assert.Equal(1, history.CopiesOf(row).Length));
    }

    private static IEnumerable<string> AllPdus(CaptureHistory history)
    {
        foreach (ProvisioningLink link in history.Provisionings)
            foreach (ProvisioningPduRecord pdu in link.Pdus)
                yield return Convert.ToHexString(pdu.Octets);
        for (int row = 0; row < history.Contents.Count; row++)
            if (history.Contents[row].Kind != Analysis.Contents.ContentKind.GattProvisioning)
                yield return history.Contents[row].Kind + Convert.ToHexString(history.Contents[row].Octets);
    }

    private static CaptureHistory Analyse(AirRecording recording, out AirCaptureWriter air, bool withNetKey = false)
    {
        using var capture = new MemoryStream();
        air = AirCaptureWriter.Write(capture, Setup.Connections, recording);
        capture.Position = 0;
        using IFrameSource source = CaptureFile.Open(capture, "air");
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = new KeyArguments
        {
            ProvisioningKeys = [Setup.ProvisionerPrivateKey], NetKeys = withNetKey ? [new TypedKey(0, new KeyOctets(PhoneSetup.NetKey.Span))] : [], IvIndexes = withNetKey ? [PhoneSetup.IvIndex] : [],
        } });
        analysis.Read(source);
        return analysis.Complete();
    }
}
