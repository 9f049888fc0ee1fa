using CsCheck;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>What the writers write, the readers give back.</summary>
public sealed class RoundTripTests
{
    private static readonly Gen<Written> _frame = Gen.Select(
        Gen.Long[0, 4_294_967_295_999_999_999], Gen.Byte.Array[1, 80], Gen.Int[0, 40], Gen.Bool, Gen.UInt, Gen.Int[0, 2],
        (time, octets, missing, flag, flags, from) => new Written(time, octets, octets.Length + missing, flag, flags, from));

    private static readonly Gen<Written[]> _frames = _frame.Array[0, 40];

    [Fact]
    public void RoundTrip_Pcap() => Gen.Select(_frames, Gen.Bool, Gen.Bool, Gen.Int[0, 65535]).Sample((frames, nanoseconds, bigEndian, linkType) =>
    {
        using var stream = new MemoryStream();
        using (var writer = new PcapWriter(stream, new LinkType(linkType), nanoseconds, bigEndian, leaveOpen: true))
        {
            foreach (Written frame in frames)
                writer.Write(frame.TimeNs, frame.Octets, frame.OriginalLength);
        }

        ReadCapture capture = ReadCapture.Of(stream.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal(stream.Length, capture.Position);
        long unit = nanoseconds ? 1 : 1000;
        Assert.Equal(
            frames.Select(f => (0, linkType, f.TimeNs / unit * unit, f.OriginalLength, Convert.ToHexString(f.Octets))),
            capture.Frames.Select(f => (f.Receiver, f.LinkType, f.TimeNs, f.OriginalLength, f.Octets)));
    });

    [Fact]
    public void RoundTrip_PcapNg() => Gen.Select(_frames, _frames, Gen.Bool, Gen.Bool).Sample((first, second, firstBig, secondBig) =>
    {
        using var stream = new MemoryStream();
        using (var writer = new PcapNgWriter(stream, firstBig, "a test", leaveOpen: true))
        {
            WriteSection(writer, first);
            writer.BeginSection(secondBig);
            WriteSection(writer, second);
        }

        ReadCapture capture = ReadCapture.Of(stream.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal(
            first.Select(f => Expected(f, 0)).Concat(second.Select(f => Expected(f, 3))),
            capture.Frames.Select(f => (f.Receiver, f.LinkType, f.TimeNs, f.OriginalLength, f.Octets, f.CrcBad)));
    });

    [Fact]
    public void RoundTrip_BtSnoop() => Gen.Select(_frames, Gen.Int[1001, 1002]).Sample((frames, datalink) =>
    {
        using var stream = new MemoryStream();
        using (var writer = new BtSnoopWriter(stream, datalink, leaveOpen: true))
        {
            foreach (Written frame in frames)
                writer.Write(frame.TimeNs, frame.Flags, frame.Octets, frame.OriginalLength);
        }

        ReadCapture capture = ReadCapture.Of(stream.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal(
            frames.Select(f => (f.TimeNs / 1000 * 1000, f.OriginalLength, Convert.ToHexString(f.Octets))),
            capture.Frames.Select(f => (f.TimeNs, f.OriginalLength, f.Octets)));
    });

    private static void WriteSection(PcapNgWriter writer, Written[] frames)
    {
        writer.AddInterface(LinkType.LeLinkLayer, "reading room");
        writer.AddInterface(LinkType.LeLinkLayerWithRadioHeader, "stairs", timeResolutionExponent: 6);
        writer.AddInterface(LinkType.HciH4, null, timeResolutionExponent: 30, binaryResolution: true);
        foreach (Written frame in frames)
            writer.Write(frame.From, frame.TimeNs, frame.Octets, frame.OriginalLength, frame.Flag);
    }

    private static (int, int, long, int, string, bool) Expected(Written frame, int firstReceiver) => (
        firstReceiver + frame.From, frame.From switch { 0 => 251, 1 => 256, _ => 187 },
        frame.From == 1 ? frame.TimeNs / 1000 * 1000 : frame.TimeNs,    // a 2^-30 s is finer than a nanosecond
        frame.OriginalLength, Convert.ToHexString(frame.Octets), frame.Flag);

    private sealed record Written(long TimeNs, byte[] Octets, int OriginalLength, bool Flag, uint Flags, int From);
}
