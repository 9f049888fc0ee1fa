using CsCheck;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Tests.Connections;

/// <summary>Reassembly of L2CAP frames and Proxy PDUs as properties: whole where nothing is lost, and never a frame or message that was not sent where pieces are.</summary>
public sealed class ReassemblyTests
{
    [Fact]
    public void Frames_ComeOutAsTheyWentIn() => Gen.Select(Gen.Byte.Array[0, 200].List[1, 8], Gen.Int[1, 40]).Sample((payloads, pieceLength) =>
    {
        var assembly = new FrameAssembly();
        List<byte[]> whole = [];
        foreach ((bool starts, byte[] piece) in Pieces(payloads, pieceLength))
        {
            if (assembly.Take(starts, piece, out int lost))
                whole.Add(assembly.Whole.ToArray());
            Assert.Equal(0, lost);
        }
        Assert.Equal(payloads.Select(FrameOf), whole);
    });

    /// <summary>Any one piece lost: what comes out was sent. All frames have their number in them, so that a mixture of two shows.</summary>
    [Fact]
    public void Frames_WithAPieceLost_AreNeverWrong() => Gen.Select(Gen.Int[1, 120].List[2, 6], Gen.Int[3, 40], Gen.Int[0, 60]).Sample((lengths, pieceLength, lostPiece) =>
    {
        List<byte[]> payloads = [.. lengths.Select((length, number) => Enumerable.Repeat((byte)number, length).ToArray())];
        List<(bool, byte[])> pieces = Pieces(payloads, pieceLength);
        pieces.RemoveAt(lostPiece % pieces.Count);
        var assembly = new FrameAssembly();
        HashSet<string> sent = [.. payloads.Select(payload => Convert.ToHexString(FrameOf(payload)))];
        foreach ((bool starts, byte[] piece) in pieces)
            if (assembly.Take(starts, piece, out _))
                Assert.Contains(Convert.ToHexString(assembly.Whole), sent);
    });

    [Fact]
    public void AnyPieces_DoNoHarm() => Gen.Select(Gen.Bool, Gen.Byte.Array[0, 300]).List[0, 30].Sample(pieces =>
    {
        var assembly = new FrameAssembly();
        foreach ((bool starts, byte[] piece) in pieces)
            if (assembly.Take(starts, piece, out _))
                Assert.True(L2capFrame.TryRead(assembly.Whole, out _, out _));
    });

    [Fact]
    public void Messages_ComeOutAsTheyWentIn() => Gen.Select(Gen.Int[0, 3], Gen.Byte.Array[1, 100]).List[1, 8].SelectMany(messages => Gen.Int[23, 70].Select(mtu => (messages, mtu))).Sample((messages, mtu) =>
    {
        var assembly = new ProxyAssembly();
        List<string> whole = [];
        foreach (byte[] value in Values(messages, mtu))
        {
            ProxyPdu.TryRead(value, out ProxyPdu pdu, out _);
            if (assembly.Take(in pdu, 0, out int lost))
                whole.Add(Convert.ToHexString(assembly.Whole));
            Assert.Equal(0, lost);
        }
        Assert.Equal(messages.Select(message => Convert.ToHexString(message.Item2)), whole);
    });

    [Fact]
    public void Messages_WithASegmentLost_AreNeverWrong() => Gen.Select(Gen.Int[1, 100].List[2, 6], Gen.Int[23, 40], Gen.Int[0, 40]).Sample((lengths, mtu, lostValue) =>
    {
        List<(int, byte[])> messages = [.. lengths.Select((length, number) => (number % 4, Enumerable.Repeat((byte)number, length).ToArray()))];
        List<byte[]> values = Values(messages, mtu);
        int lost = lostValue % values.Count;
        bool middle = (values[lost][0] >> 6) == (int)Sar.Continuation;
        values.RemoveAt(lost);
        var assembly = new ProxyAssembly();
        HashSet<string> sent = [.. messages.Select(message => Convert.ToHexString(message.Item2))];
        foreach (byte[] value in values)
        {
            ProxyPdu.TryRead(value, out ProxyPdu pdu, out _);
            bool whole = assembly.Take(in pdu, 0, out _);
            // A lost continuation cannot be seen in the segments themselves: the layer below tells of it, else NetMIC and lengths do, see below.
            if (whole && !middle)
                Assert.Contains(Convert.ToHexString(assembly.Whole), sent);
        }
    });

    /// <summary>A message that lacks a segment in the middle has no length of its type.</summary>
    [Theory, InlineData(ProxyMessageType.ProvisioningPdu, 65), InlineData(ProxyMessageType.MeshBeacon, 22)]
    public void MessagesThatLackAMiddle_AreRefused(ProxyMessageType type, int length)
    {
        var history = new CaptureHistory { Keys = new KeyRing() };
        var sink = new MeshMessageSink(history);
        byte[] message = new byte[length];
        message[0] = type == ProxyMessageType.ProvisioningPdu ? (byte)3 : (byte)1;
        sink.Begin(default);
        Assert.True(sink.Take(type, fromClient: true, message, 0, 0));
        for (int missing = 1; missing < length; missing++)
            Assert.False(sink.Take(type, fromClient: true, message.AsSpan(0, length - missing), 0, 0));
    }

    [Fact]
    public void LatePauses_EndAMessage()
    {
        var assembly = new ProxyAssembly();
        ProxyPdu.TryRead([0x43, 1, 2], out ProxyPdu first, out _);
        ProxyPdu.TryRead([0xC3, 3], out ProxyPdu last, out _);
        Assert.False(assembly.Take(in first, 0, out _));
        Assert.False(assembly.Take(in last, ProxyAssembly.LongestPauseNs + 1, out int lost));
        Assert.Equal(1, lost);
        Assert.False(assembly.Take(in first, CapturedFrame.NoTime, out _));
        Assert.True(assembly.Take(in last, CapturedFrame.NoTime, out _));
        Assert.Equal([1, 2, 3], assembly.Whole.ToArray());
    }

    private static List<byte[]> Values(IEnumerable<(int Type, byte[] Octets)> messages, int mtu)
    {
        var values = new List<byte[]>();
        byte[] value = new byte[mtu];
        foreach ((int type, byte[] octets) in messages)
        {
            var segments = new ProxySegmenter((ProxyMessageType)type, octets, mtu);
            while (segments.TryWriteNext(value, out int length))
                values.Add(value[..length]);
        }
        return values;
    }

    private static List<(bool Starts, byte[] Piece)> Pieces(List<byte[]> payloads, int pieceLength)
    {
        var pieces = new List<(bool, byte[])>();
        foreach (byte[] frame in payloads.Select(FrameOf))
            for (int at = 0; at < frame.Length; at += pieceLength)
                pieces.Add((at == 0, frame[at..Math.Min(frame.Length, at + pieceLength)]));
        return pieces;
    }

    private static byte[] FrameOf(byte[] payload)
    {
        byte[] frame = new byte[L2capFrame.HeaderLength + payload.Length];
        L2capFrame.Write(frame, L2capFrame.AttributeProtocol, payload);
        return frame;
    }
}
