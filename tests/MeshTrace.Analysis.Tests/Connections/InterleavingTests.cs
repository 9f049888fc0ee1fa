using CsCheck;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.Connections;

/// <summary>
/// Three connections of one host at the same time, their ACL packets in any order that a controller may give: whole where nothing is lost, and never a PDU
/// that was not sent, nor one twice, where packets are. As properties, through ACL, L2CAP, ATT and the Proxy protocol.
/// </summary>
public sealed class InterleavingTests
{
    private static readonly PhoneSetup Setup = PhoneSetup.Compose(new PhoneSetupPlan { ClientMtu = 23 });      // the smallest MTU gives the most segments
    private static readonly HashSet<string> Sent = [.. PdusOf(Analyse(new Random(1), 27, false, 0, false))];

    /// <summary>Also where the direction word is written the other way round.</summary>
    [Fact]
    public void InterleavedConnections_AreReadAsIfAlone() => Gen.Select(Gen.Int, Gen.Int[5, 60], Gen.Bool).Sample((seed, pieceLength, reversed) =>
    {
        CaptureHistory history = Analyse(new Random(seed), pieceLength, false, 0, reversed);
        Assert.Equal(3, history.Connections.Count);
        Assert.All(history.Connections, connection => Assert.Equal((0, 0), (connection.Counts.FramesLost, connection.Counts.ProxyPdusLost)));
        Assert.All(history.Provisionings, link => Assert.Equal((ProvisioningOutcome.Complete, true, 11), (link.Outcome, link.KeysLearnt, link.Pdus.Count)));
        Assert.Equal((2, 8, 4), (history.Provisionings.Count, history.Configuration!.Changes.Count, history.Presses.Count));
        Assert.All(history.Presses, press => Assert.Equal(2, press.Answers.Select(answer => answer.Element).Distinct().Count()));
        Assert.Equal(Sent.Order(), PdusOf(history).Order());
    }, iter: 60);

    /// <summary>Two lost packets that fit each other by their lengths cannot be seen in a host's log: one of each connection is lost.</summary>
    [Fact]
    public void InterleavedConnections_WithAPacketLost_GiveNothingWrong_AndNothingTwice() => Gen.Select(Gen.Int, Gen.Int[5, 60]).Sample((seed, pieceLength) =>
    {
        List<string> given = [.. PdusOf(Analyse(new Random(seed), pieceLength, true, 0, false))];
        Assert.True(given.Count > Sent.Count / 2);
        Assert.All(given, pdu => Assert.Contains(pdu, Sent));
        Assert.Equal(given.Distinct(), given);
    }, iter: 150);

    /// <summary>Whatever is lost, NetMIC keeps out what was not sent. In short pieces a tenth of them may leave nothing whole, but not in every drawing.</summary>
    [Fact]
    public void InterleavedConnections_WithManyPacketsLost_GiveNoWrongNetworkPdu()
    {
        int floods = 0;
        Gen.Select(Gen.Int, Gen.Int[5, 60], Gen.Double[0.01, 0.1]).Sample((seed, pieceLength, share) =>
        {
            CaptureHistory history = Analyse(new Random(seed), pieceLength, false, share, false);
            Interlocked.Add(ref floods, history.Floods.Count);
            Assert.All(Enumerable.Range(0, history.Floods.Count), row => Assert.Contains(FloodOf(history, row), Sent));
            Assert.All(Enumerable.Range(0, history.Floods.Count), row => Assert.Equal(1, history.CopiesOf(row).Length));
        }, iter: 100);
        Assert.True(floods > 10 * Sent.Count);
    }

    private static IEnumerable<string> PdusOf(CaptureHistory history) =>
        history.Provisionings.SelectMany(link => link.Pdus.Select(pdu => $"{link.Connection} {Convert.ToHexString(pdu.Octets)}"))
            .Concat(Enumerable.Range(0, history.Floods.Count).SelectMany(row => Enumerable.Repeat(FloodOf(history, row), history.CopiesOf(row).Length)));

    private static string FloodOf(CaptureHistory history, int row) => $"{history.Floods[row].Src} {history.Floods[row].Seq}";

    /// <param name="random">Order and losses.</param>
    /// <param name="pieceLength">Octets that an ACL packet holds.</param>
    /// <param name="lost">One ACL packet of each connection is lost.</param>
    /// <param name="share">Share of the packets that are lost.</param>
    /// <param name="reversed">The direction word is 1 for what the host received.</param>
    private static CaptureHistory Analyse(Random random, int pieceLength, bool lost, double share, bool reversed)
    {
        byte sent = (byte)(reversed ? 0 : 1), received = (byte)(1 - sent);
        var frames = new FrameList();
        byte[] octets = new byte[64];
        Queue<Piece>[] waiting = [.. Setup.Connections.Select((script, at) => new Queue<Piece>(Shuffled(at == 2 ? random : null, [.. script.Pdus.SelectMany(pdu => PiecesOf((ushort)(0x40 + at), pdu, pieceLength))])))];
        for (int at = 0; at < waiting.Length; at++)
        {
            int length = HciLeEvent.WriteConnected(octets, (ushort)(0x40 + at), isCentral: true, Setup.Connections[at].Peripheral, peerIsRandom: true, 24);
            frames.Add(at, [0, 0, 0, received, 0x04, .. octets[..length]], LinkType.HciH4WithDirection);
        }
        if (lost)
            waiting = [.. waiting.Select(queue => new Queue<Piece>(WithoutOne(random, [.. queue])))];
        for (long timeNs = 1_000_000; waiting.Any(queue => queue.Count > 0); timeNs += 1_000_000)
        {
            Queue<Piece>[] open = [.. waiting.Where(queue => queue.Count > 0)];
            Piece piece = open[random.Next(open.Length)].Dequeue();
            if (random.NextDouble() >= share)
                frames.Add(timeNs, [0, 0, 0, piece.FromClient ? sent : received, 0x02, .. piece.Packet], LinkType.HciH4WithDirection);
        }
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = new KeyArguments
        {
            ProvisioningKeys = [Setup.ProvisionerPrivateKey], NetKeys = [new TypedKey(0, new KeyOctets(PhoneSetup.NetKey.Span))], IvIndexes = [PhoneSetup.IvIndex],
        } });
        analysis.Read(frames);
        return analysis.Complete();
    }

    private static IEnumerable<Piece> PiecesOf(ushort handle, ScriptedPdu pdu, int pieceLength)
    {
        byte[] frame = new byte[L2capFrame.HeaderLength + pdu.AttPdu.Length], packet = new byte[HciAclPacket.HeaderLength + pieceLength];
        L2capFrame.Write(frame, L2capFrame.AttributeProtocol, pdu.AttPdu);
        for (int at = 0; at < frame.Length; at += pieceLength)
        {
            PacketBoundary boundary = at > 0 ? PacketBoundary.Continuation : pdu.FromClient ? PacketBoundary.FirstFromHost : PacketBoundary.First;
            int length = HciAclPacket.Write(packet, handle, boundary, frame.AsSpan(at, Math.Min(pieceLength, frame.Length - at)));
            yield return new Piece(pdu.FromClient, pdu.AttPdu[0] is (byte)AttOpcode.WriteCmd or (byte)AttOpcode.HandleValueNtf, packet[..length]);
        }
    }

    /// <summary>
    /// Values written and notified over a proxy do not wait for each other: neighbours of opposite directions may come the other way round, once. Discovery and
    /// provisioning are questions and answers.
    /// </summary>
    private static List<Piece> Shuffled(Random? random, List<Piece> pieces)
    {
        for (int at = 1; random is not null && at < pieces.Count; at++)
        {
            if (pieces[at] is { IsValue: true } piece && pieces[at - 1] is { IsValue: true } before && piece.FromClient != before.FromClient && random.Next(3) == 0)
            {
                (pieces[at - 1], pieces[at]) = (pieces[at], pieces[at - 1]);
                at++;
            }
        }
        return pieces;
    }

    private static List<Piece> WithoutOne(Random random, List<Piece> pieces)
    {
        pieces.RemoveAt(random.Next(pieces.Count));
        return pieces;
    }

    private sealed record Piece(bool FromClient, bool IsValue, byte[] Packet);
}
