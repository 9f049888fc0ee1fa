using CsCheck;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class LinkReaderPropertyTests
{
    private static readonly int[] LinkTypes = [251, 256, 272, 187, 201, 254, 0x10000 + 1001, 0x10000 + 2001, 1, 255];

    private static readonly AdvertisingPduType[] DataPduTypes =
        [AdvertisingPduType.AdvInd, AdvertisingPduType.AdvNonconnInd, AdvertisingPduType.ScanRsp, AdvertisingPduType.AdvScanInd];

    private static readonly Gen<AdvertisingPduType> DataPduType = Gen.Int[0, 3].Select(i => DataPduTypes[i]);

    [Fact]
    public void RandomOctets_NeverThrow() =>
        Gen.Select(Gen.Byte.Array[0, 400], Gen.Int[0, LinkTypes.Length - 1], Gen.Enum<HciKind>(), Gen.Int[0, 3]).Sample((octets, type, kind, missing) =>
            ReadEverything(LinkTypes[type], octets, missing, kind), iter: 20_000);

    // Frames that are right but for one octet go deeper than random ones.
    [Fact]
    public void OneWrongOctet_NeverThrows() =>
        Gen.Select(Gen.Int[0, 2], Gen.Int[0, 62], Gen.Byte, Gen.Bool).Sample((type, offset, value, cut) =>
        {
            byte[] frame = Frames.Write(LinkTypes[type]);
            frame[offset % frame.Length] = value;
            ReadEverything(LinkTypes[type], cut ? frame[..(offset % frame.Length)] : frame, 0, HciKind.Unknown);
        }, iter: 20_000);

    [Fact]
    public void OneWrongOctetInAnEvent_NeverThrows() =>
        Gen.Select(Gen.Int[3, 7], Gen.Int[0, 70], Gen.Byte, Gen.Bool).Sample((type, offset, value, extended) =>
        {
            byte[] frame = new byte[HciReportWriter.LongestFrame];
            var linkType = new LinkType(LinkTypes[type]);
            int length = extended
                ? HciReportWriter.WriteExtended(frame, linkType, AdvertisingPduType.AdvNonconnInd, 1, true, Frames.MeshAdvData, -50)
                : HciReportWriter.Write(frame, linkType, AdvertisingPduType.AdvNonconnInd, 1, true, Frames.MeshAdvData, -50);
            frame[offset % length] = value;
            ReadEverything(LinkTypes[type], frame[..length], 0, HciKind.Event);
        }, iter: 20_000);

    [Fact]
    public void AnyPosition_NeverThrows() =>
        Gen.Select(Gen.Byte.Array[0, 60], Gen.Int[0, LinkTypes.Length - 1], Gen.Int).Sample((octets, type, start) =>
        {
            var frame = new CapturedFrame
            {
                Receiver = 0, LinkType = new LinkType(LinkTypes[type]), TimeNs = 0, OriginalLength = octets.Length, FileOffset = 0, Octets = octets,
                Hci = HciKind.Event,
            };
            int position = start;
            for (int i = 0; i < 300 && LinkReader.TryReadNext(frame, ref position, out _); i++)
                Assert.True(i < 299);
        }, iter: 20_000);

    [Fact]
    public void WriteThenRead_IsTheSame() =>
        Gen.Select(Gen.Int[1, 2], DataPduType, Gen.ULong[0, (1UL << 48) - 1], Gen.Bool, Gen.Byte.Array[0, 31], Gen.Int[0, 39], Gen.Int[-120, 0])
            .Sample((type, pduType, advertiser, random, advData, channel, rssi) =>
            {
                byte[] frame = Frames.Filled(LeLinkLayerWriter.LongestFrame);
                int length = LeLinkLayerWriter.Write(
                    frame, new LinkType(LinkTypes[type]), pduType, advertiser, random, advData, channel, rssi);
                Heard heard = Frames.ReadOne(LinkTypes[type], frame[..length]);
                // Data channels 35 and 36 (RF 37 and 38) with a legacy PDU read as stored indexes.
                int expected = type == 1 && channel is 35 or 36 ? channel + 2 : channel;
                Assert.Equal(
                    new Heard(
                        pduType, true, advertiser, random, expected, rssi, CrcCheck.Ok, LinkProblem.None, false, Convert.ToHexStringLower(advData)),
                    heard);
            });

    private static void ReadEverything(int linkType, byte[] octets, int missing, HciKind kind)
    {
        byte[] guarded = [.. octets];
        foreach (Heard heard in Frames.Read(linkType, guarded, missing, kind))
        {
            var structures = new AdStructureReader(Convert.FromHexString(heard.AdvData));
            while (structures.MoveNext())
                _ = AdTypeNames.Of(structures.Type);
        }
        Assert.Equal(octets, guarded);   // a reader does not write
    }
}
