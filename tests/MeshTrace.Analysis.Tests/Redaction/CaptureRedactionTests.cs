using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Tests.Redaction;

/// <summary>Frames of every link type are made again: read with the fresh description they tell the same of another network.</summary>
public sealed class CaptureRedactionTests
{
    private const ulong Advertiser = 0xC0DE_0A0B_0C0D, Public = 0x0011_2233_4455;
    private static readonly byte[] DeviceKey = Convert.FromHexString("6ad0b2f1c4e3958774665544332211ff");
    private static readonly byte[] OnOff = AccessWriter.Write("Generic OnOff Set", ("OnOff", 1), ("TID", 5));

    private readonly AirBuilder _air = new();

    [Theory, InlineData(251), InlineData(256), InlineData(272)]
    public void PacketsFromTheAir_KeepHeaderAndCrc(int linkType)
    {
        var type = new LinkType(linkType);
        byte[] mesh = MeshStructure();
        var given = new List<byte[]>();
        foreach (bool corrupt in (bool[])[false, true])
        {
            byte[] frame = new byte[256];
            given.Add(frame[..LeLinkLayerWriter.Write(frame, type, AdvertisingPduType.AdvNonconnInd, Advertiser, true, mesh, 38, -71, corrupt)]);
        }
        foreach (byte[] frame in given)
            _air.Frames.Add(1_000_000_000, frame, type);
        (CaptureHistory history, CaptureRedaction redaction, List<byte[]> redacted) = Redact();
        for (int i = 0; i < given.Count; i++)
        {
            Seen before = Read(given[i], type), after = Read(redacted[i], type);
            Assert.Equal((before.Channel, before.RssiDbm, before.Crc, before.PduType, before.Problem), (after.Channel, after.RssiDbm, after.Crc, after.PduType, after.Problem));
            Assert.NotEqual(Advertiser, after.Advertiser);
            Assert.Equal(given[i].Length, redacted[i].Length);
        }
        Assert.Equal(Advertiser >> 46, Read(redacted[0], type).Advertiser >> 46);       // static, resolvable or not: the two highest bits
        Assert.True(!Read(redacted[1], type).Pdu.AsSpan(2).ContainsAnyExcept((byte)0));      // what is damaged is nothing but damaged
        Same(history, redaction, redacted, type);
    }

    [Fact]
    public void WhitenedPackets_AreWrittenDewhitened()
    {
        byte[] frame = new byte[256];
        int length = LeLinkLayerWriter.Write(frame, LinkType.LeLinkLayerWithRadioHeader, AdvertisingPduType.AdvNonconnInd, Advertiser, true, MeshStructure(), 38, -71);
        Whitening.Apply(frame.AsSpan(LeLinkLayerWriter.RadioHeaderLength + 4, length - LeLinkLayerWriter.RadioHeaderLength - 4), 38);
        frame[8] &= 0xFE;       // dewhitened: no
        _air.Frames.Add(1_000_000_000, frame[..length], LinkType.LeLinkLayerWithRadioHeader);
        (CaptureHistory history, CaptureRedaction redaction, List<byte[]> redacted) = Redact();
        Assert.Equal(1, redacted[0][8] & 1);
        Assert.Equal(CrcCheck.Ok, Read(redacted[0], LinkType.LeLinkLayerWithRadioHeader).Crc);
        Same(history, redaction, redacted, LinkType.LeLinkLayerWithRadioHeader);
    }

    [Theory, InlineData(187), InlineData(201), InlineData(254), InlineData(0x10000 + 2001)]
    public void ReportsOfAHost_KeepTheirForm(int linkType)
    {
        var type = new LinkType(linkType);
        byte[] mesh = MeshStructure(), frame = new byte[512];
        if (!type.Equals(LinkType.HostMonitorUnframed))
        {
            _air.Frames.Add(1_000_000_000, frame[..HciReportWriter.Write(frame, type, AdvertisingPduType.AdvNonconnInd, Advertiser, true, mesh, -60)], type);
            _air.Frames.Add(2_000_000_000, frame[..HciReportWriter.WriteExtended(frame, type, AdvertisingPduType.AdvNonconnInd, Advertiser, true, mesh, -60)], type);
            (CaptureHistory history, CaptureRedaction redaction, List<byte[]> redacted) = Redact();
            Assert.Equal(2, redacted.Count);
            Assert.All(redacted, one => Assert.NotEqual(Advertiser, Read(one, type).Advertiser));
            Assert.Equal(Read(redacted[0], type).Advertiser, Read(redacted[1], type).Advertiser);
            Same(history, redaction, redacted, type);
        }
        else
        {
            _air.Frames.Add(1_000_000_000, [0x01, 0x02, 0x03], type);       // what it is, is told beside the octets: not advertising
            Assert.Empty(Redact().Frames);
        }
    }

    [Fact]
    public void UnrelatedAdvertising_LosesItsWords()
    {
        byte[] frame = new byte[256], advData = [2, (byte)AdType.Flags, 6, 6, (byte)AdType.CompleteLocalName, .. "Hanna"u8, 5, (byte)AdType.ManufacturerSpecificData, 0xE0, 0x00, 0x42, 0x43, 9];
        int length = LeLinkLayerWriter.Write(frame, LinkType.LeLinkLayer, AdvertisingPduType.AdvInd, Public, false, advData, 37, -50);
        _air.Frames.Add(1_000_000_000, frame[..length], LinkType.LeLinkLayer);
        byte[] other = Redact().Frames[0];
        Assert.True(other.AsSpan().IndexOf("Hanna"u8) < 0);
        Assert.Equal([2, (byte)AdType.Flags, 6, 6, (byte)AdType.CompleteLocalName, 0, 0, 0, 0, 0, 5, (byte)AdType.ManufacturerSpecificData, 0, 0, 0, 0, 9], Read(other, LinkType.LeLinkLayer).AdvData);
        Assert.Equal(0x02ul, (Read(other, LinkType.LeLinkLayer).Advertiser >> 40) & 0x03);      // locally administered, of one device
        Assert.Equal(CrcCheck.Ok, Read(other, LinkType.LeLinkLayer).Crc);
    }

    [Fact]
    public void ScanRequests_AndCutFrames_TellOfNobody()
    {
        byte[] request = [0x43, 12, .. Address(Advertiser), .. Address(Public)], frame = new byte[256];
        int length = LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayer, 0x8E89BED6, request, 37, -50);
        _air.Frames.Add(1_000_000_000, frame[..length], LinkType.LeLinkLayer);
        _air.Frames.Add(2_000_000_000, frame[..(length - 5)], LinkType.LeLinkLayer);
        List<byte[]> redacted = Redact().Frames;
        Assert.Equal(2, redacted.Count);
        foreach (byte[] one in redacted)
        {
            Assert.True(one.AsSpan().IndexOf(Address(Advertiser)) < 0);
            Assert.True(one.AsSpan().IndexOf(Address(Public)) < 0);
        }
    }

    /// <summary>As LE has them, and with anything changed in them: nothing is thrown, the length stays, and no address passes.</summary>
    [Theory, InlineData(251), InlineData(256), InlineData(272), InlineData(187), InlineData(201), InlineData(254)]
    public void AnyOctets_GiveNothingAway(int linkType)
    {
        var type = new LinkType(linkType);
        var chance = new Random(linkType);
        byte[] mesh = MeshStructure(), room = new byte[512];
        int length = type.IsHostLog ? HciReportWriter.Write(room, type, AdvertisingPduType.AdvInd, Advertiser, true, mesh, -60)
            : LeLinkLayerWriter.Write(room, type, AdvertisingPduType.AdvInd, Advertiser, true, mesh, 38, -60);
        byte[] good = room[..length];
        for (int i = 0; i < 4_000; i++)
        {
            byte[] frame = [.. good];
            if (i % 4 == 0)
                frame = new byte[chance.Next(0, 90)];
            if (i % 4 <= 1)
                chance.NextBytes(frame.AsSpan(frame.Length / 2));
            for (int change = chance.Next(1, 4); change > 0 && frame.Length > 0; change--)
                frame[chance.Next(frame.Length)] = (byte)chance.Next(256);
            _air.Frames.Add((i + 1) * 1_000_000L, i % 4 == 3 ? frame[..chance.Next(frame.Length)] : frame, type);
        }
        List<byte[]> redacted = Redact().Frames;
        Assert.NotEmpty(redacted);
        Assert.All(redacted, frame => Assert.True(frame.AsSpan().IndexOf(Address(Advertiser)) < 0, Convert.ToHexString(frame)));
    }

    [Fact]
    public void UnknownConnections_AreEmptied_TextLogsLeftOut()
    {
        byte[] request = [0x45, 34, .. Address(Advertiser), .. Address(Public), .. new byte[22]], frame = new byte[256];
        _air.Frames.Add(1_000_000_000, frame[..LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayer, 0x8E89BED6, request, 37, -50)], LinkType.LeLinkLayer);
        _air.Frames.Add(2_000_000_000, frame[..LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayer, 0x50655D11, [0x02, 3, 1, 2, 3], 12, -50)], LinkType.LeLinkLayer);
        _air.Frames.Add(3_000_000_000, [1, 2, 3, 4, 5, 6, 7, 8], LinkType.TextLog);
        (_, CaptureRedaction redaction, List<byte[]> redacted) = Redact();
        Assert.Equal((2, 1), (redacted.Count, redaction.LeftOut));
        Assert.True(redacted[0].AsSpan().IndexOf(Address(Advertiser)) < 0 && redacted[0].AsSpan().IndexOf(Address(Public)) < 0);
        Assert.Equal(CrcCheck.Ok, Read(redacted[0], LinkType.LeLinkLayer).Crc);
        Assert.Equal([0x02, 3, 0, 0, 0], Read(redacted[1], LinkType.LeLinkLayer).Pdu);
        Assert.True(Crc24.IsRight(redacted[1].AsSpan(4, 5), redacted[1].AsSpan(9, 3)));      // it was right, with the same beginning
    }

    [Fact]
    public void SegmentedMessages_AreCutIntoTheSameSegments()
    {
        byte[] bind = AccessWriter.Write("Config AppKey Add", DecodedField.OfNumber("NetKeyIndex", 0), DecodedField.OfNumber("AppKeyIndex", 0), DecodedField.OfOctets("AppKey", AirBuilder.AppKey));
        uint seq = 40;
        foreach (byte[] segment in _air.Segments(Convert.ToHexString(bind), seq, 0x0001, 0x0007, DeviceKey))
            _air.Network(100 + seq, false, 5, seq++, 0x0001, 0x0007, segment);
        _air.Acknowledge(300, 9, 0x0007, 0x0001, 40, 3);
        (CaptureHistory history, CaptureRedaction redaction, List<byte[]> redacted) = Redact();
        CaptureHistory other = Analyse(redaction, redacted, LinkType.LeLinkLayerWithRadioHeader);
        Assert.Equal(history.Transfers.Single().Outcome, other.Transfers.Single().Outcome);
        Assert.True(other.Messages[0].Decrypted);
        Assert.Equal(bind.Length, other.PayloadOf(0).Length);
        Assert.NotEqual(bind, other.PayloadOf(0).ToArray());
        Assert.Equal(history.Keys.AppKeys[0].AppKeyIndex, other.Keys.AppKeys[0].AppKeyIndex);
        Assert.DoesNotContain(other.Keys.RevealedKeys(), key => key.Octets.Span.SequenceEqual(AirBuilder.AppKey) || key.Octets.Span.SequenceEqual(DeviceKey) || key.Octets.Span.SequenceEqual(AirBuilder.NetKey));
    }

    private static byte[] MeshStructure()
    {
        var alone = new AirBuilder();
        alone.Access(0, 5, 7, 0x0003, 0xC001, Convert.ToHexString(OnOff));
        Assert.True(alone.Frames.TryReadNext(out CapturedFrame frame));
        return Read(frame.Octets, frame.LinkType).AdvData;
    }

    private (CaptureHistory History, CaptureRedaction Redaction, List<byte[]> Frames) Redact()
    {
        var settings = new AnalysisSettings
        {
            Keys = new KeyArguments
            {
                NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))],
                DeviceKeys = [new TypedDeviceKey(new MeshTrace.Protocol.MeshAddress(0x0007), new KeyOctets(DeviceKey))], IvIndexes = [AirBuilder.IvIndex],
            },
        };
        var analysis = new CaptureAnalysis(settings);
        analysis.Read(_air.Frames);
        CaptureHistory history = analysis.Complete();
        var redaction = new CaptureRedaction(history, settings);
        redaction.LookAtConnections(() =>
        {
            _air.Frames.Rewind();
            return _air.Frames;
        });
        _air.Frames.Rewind();
        using RedactingSource source = redaction.Read(_air.Frames);
        var frames = new List<byte[]>();
        while (source.TryReadNext(out CapturedFrame frame))
            frames.Add(frame.Octets.ToArray());
        return (history, redaction, frames);
    }

    private static CaptureHistory Analyse(CaptureRedaction redaction, List<byte[]> redacted, LinkType type)
    {
        var frames = new FrameList();
        for (int i = 0; i < redacted.Count; i++)
            frames.Add((i + 1) * 1_000_000_000L, redacted[i], type);
        var analysis = new CaptureAnalysis(redaction.Settings());
        analysis.Read(frames);
        return analysis.Complete();
    }

    /// <summary>One flood with the same message, between pseudonyms.</summary>
    private static void Same(CaptureHistory history, CaptureRedaction redaction, List<byte[]> redacted, LinkType type)
    {
        CaptureHistory other = Analyse(redaction, redacted, type);
        Assert.Equal((1, 1), (history.Floods.Count, other.Floods.Count));
        Assert.Equal((history.Floods[0].Seq, history.Floods[0].HighestTtl, history.Floods[0].IvIndex), (other.Floods[0].Seq, other.Floods[0].HighestTtl, other.Floods[0].IvIndex));
        Assert.Equal((redaction.AddressOf(history.Floods[0].Src), redaction.AddressOf(history.Floods[0].Dst)), (other.Floods[0].Src, other.Floods[0].Dst));
        Assert.NotEqual(history.Floods[0].Src, other.Floods[0].Src);
        Assert.Equal(OnOff, other.PayloadOf(0).ToArray());
    }

    private static Seen Read(ReadOnlySpan<byte> octets, LinkType type)
    {
        int position = 0;
        var frame = new CapturedFrame { Receiver = 0, LinkType = type, TimeNs = 0, OriginalLength = octets.Length, FileOffset = 0, Octets = octets };
        Assert.True(LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement));
        return new Seen(advertisement.Channel, advertisement.RssiDbm, advertisement.Crc, advertisement.PduType, advertisement.Problem, advertisement.Advertiser,
            advertisement.Pdu.ToArray(), advertisement.AdvData.ToArray());
    }

    private static byte[] Address(ulong address)
    {
        byte[] octets = new byte[AdvertisingPdu.AddressLength];
        AdvertisingPdu.WriteAddress(octets, address);
        return octets;
    }

    private sealed record Seen(int? Channel, int? RssiDbm, CrcCheck Crc, AdvertisingPduType? PduType, LinkProblem Problem, ulong Advertiser, byte[] Pdu, byte[] AdvData);
}
