using System.Text;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.TextLogs;

/// <summary>Text logs: what each line is taken for, and that what they carry is decoded as everything heard.</summary>
public sealed class TextLogTests
{
    // Mesh Protocol 1.1 §8.3.1, Message #1: a Friend Request, its NetKey and IV index (§8.1, §8.3).
    private const string Message1 = "68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df", SampleNetKey = "7dd7364cd842ad18c17c2b820c84c3d6";
    private const uint SampleIvIndex = 0x12345678;

    /// <summary>The phone of the story writes a log of what it sends and gets: everything decodes from the pasted lines.</summary>
    [Theory, InlineData("write {0}", "notification {0}"), InlineData("TX proxy {0}", "RX proxy {0}"), InlineData("-> {0}", "<- {0}")]
    public void PastedValuesOfAPhone_GiveTheWholeStory(string client, string server)
    {
        PhoneSetup setup = PhoneSetup.Compose(new PhoneSetupPlan { ClientMtu = 23 });
        var log = new StringBuilder("Log of a phone, begun 01020304a5\n");
        foreach (ConnectionScript connection in setup.Connections)
            foreach (ScriptedPdu pdu in connection.Pdus.Where(pdu => pdu.AttPdu[0] is 0x52 or 0x1B))
                log.Append(System.Globalization.CultureInfo.InvariantCulture, $"[{pdu.TimeUs / 1e6:0.000000}] ")
                    .AppendFormat(System.Globalization.CultureInfo.InvariantCulture, pdu.FromClient ? client : server, Convert.ToHexString(pdu.AttPdu.AsSpan(3))).Append('\n');
        CaptureHistory history = Analyse(log.ToString(), new KeyArguments { ProvisioningKeys = [setup.ProvisionerPrivateKey] });

        Assert.All(history.Provisionings, link => Assert.Equal((ProvisioningOutcome.Complete, true), (link.Outcome, link.KeysLearnt)));
        Assert.Equal((2, 8, 4), (history.Provisionings.Count, history.Configuration!.Changes.Count, history.Presses.Count));
        Assert.All(history.TextLines.Skip(1), line => Assert.Equal(TextLineKind.ProxyPdu, line.Kind));
        ConnectionRecord connectionRecord = Assert.Single(history.Connections);
        Assert.Equal((0, MeshRecognition.ByContent, 2), (connectionRecord.Counts.ProxyPdusLost, connectionRecord.Proxy, connectionRecord.FilterAt(long.MaxValue).Count));
    }

    [Fact]
    public void SpecVector_NetworkPduInALine_IsKnownByItsNetMic()
    {
        CaptureHistory history = Analyse($"12:00:00 some words {Message1}\n", Keys(SampleNetKey));
        Assert.Equal((TextLineKind.NetworkPdu, TextLineReason.NetMic), (history.TextLines[0].Kind, history.TextLines[0].Reason));
        Assert.Equal((1, 0x1201, 0xFFFD), (history.Floods.Count, history.Floods[0].Src.Value, history.Floods[0].Dst.Value));
        FloodIsFromText(history);

        // Words that do not fit the octets do not decide, and a beacon tells the IV index.
        CaptureHistory later = Analyse($"beacon {Beacon()}\nproxy pdu {Message1}\n", Keys(SampleNetKey));
        Assert.Equal((TextLineKind.NetworkPdu, TextLineReason.NetMic), (later.TextLines[1].Kind, later.TextLines[1].Reason));
    }

    [Theory]
    [InlineData("access payload 8202 0105", "82020105", TextLineKind.AccessPayload)]
    [InlineData("access payload 820201 05", "820201", TextLineKind.Unclear)]
    [InlineData("access payload 82020105", "82020105", TextLineKind.AccessPayload)]
    [InlineData("sends 82 02 01 05", "82020105", TextLineKind.AccessPayload)]
    [InlineData("upper transport pdu 5a8bde6d9106ea078a", null, TextLineKind.UpperTransportPdu)]
    [InlineData("NetKey: 7dd7364cd842ad18c17c2b820c84c3d6", null, TextLineKind.Key)]
    [InlineData("writes 7dd7364cd842ad18c17c2b820c84c3d6", null, TextLineKind.Unclear)]
    [InlineData("provisioning invite 00 05", null, TextLineKind.ProvisioningPdu)]
    [InlineData("provisioning invite 03 00 05", null, TextLineKind.ProxyPdu)]
    [InlineData("connected", null, TextLineKind.NoOctets)]
    [InlineData("checksum a1b2c3", null, TextLineKind.Unclear)]
    public void Lines_AreTakenForWhatTheyAre(string line, string? payload, TextLineKind kind)
    {
        CaptureHistory history = Analyse("0a0b0c0d0e\n" + line + "\n", new KeyArguments());
        TextLineRecord taken = history.TextLines[1];
        Assert.Equal((2, kind), (taken.Line, taken.Kind));
        if (kind == TextLineKind.AccessPayload)
            Assert.Equal(payload, Convert.ToHexStringLower(history.PayloadOf(taken)));
    }

    [Fact]
    public void RandomLines_DoNoHarm()
    {
        var random = new Random(7);
        var log = new StringBuilder("0a0b0c0d0e\n");
        string[] words = ["proxy", "network", "beacon", "provisioning", "access", "upper", "TX", "RX", "write", "notify", "", "key", "12:00:00"];
        for (int i = 0; i < 20_000; i++)
        {
            byte[] octets = new byte[random.Next(0, 80)];
            random.NextBytes(octets);
            if (octets.Length > 1 && random.Next(2) == 0)
                octets[0] = (byte)(random.Next(4) | (random.Next(4) << 6));
            log.Append(words[random.Next(words.Length)]).Append(' ').Append(words[random.Next(words.Length)]).Append(' ').Append(Convert.ToHexString(octets)).Append('\n');
        }
        CaptureHistory history = Analyse(log.ToString(), Keys(SampleNetKey));
        Assert.Equal(20_000, history.TextLines.Count - 1 + (20_001 - history.Frames.Count));
        Assert.Equal(history.Frames.Count, history.TextLines.Count);
    }

    private static string Beacon()
    {
        byte[] beacon = new byte[32];
        var net = new Protocol.Security.NetKeyMaterial(Convert.FromHexString(SampleNetKey));
        return Convert.ToHexString(beacon.AsSpan(0, Protocol.Beacons.SecureNetworkBeacon.Write(beacon, 0, net.NetworkId, SampleIvIndex, net.BeaconKey)));
    }

    private static void FloodIsFromText(CaptureHistory history)
    {
        Assert.False(history.Floods[0].HeardOnAir);
        Assert.Equal(Bearer.TextLog, Assert.Single(history.CopiesOf(0).ToArray()).Bearer);
    }

    private static KeyArguments Keys(string netKey) => new() { NetKeys = [new TypedKey(0, new KeyOctets(Convert.FromHexString(netKey)))], IvIndexes = [SampleIvIndex] };

    private static CaptureHistory Analyse(string log, KeyArguments keys)
    {
        using IFrameSource source = CaptureFile.Open(new MemoryStream(Encoding.UTF8.GetBytes(log)), "log");
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(source);
        return analysis.Complete();
    }
}
