using System.Buffers.Binary;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Contents;

/// <summary>
/// What a frame tells by itself: its row, and the distinct mesh contents in it. Runs for every frame, perhaps on another core than what depends on the
/// order of frames; nothing here allocates or remembers.
/// </summary>
internal static class FramePreparation
{
    /// <summary>First octet of a mesh beacon AD structure (Mesh Protocol 1.1 §3.10.1).</summary>
    private const byte UnprovisionedBeacon = 0x00, SecureBeacon = 0x01, PrivateBeacon = 0x02;

    /// <summary>Service UUIDs of mesh in service data (assigned numbers).</summary>
    private const ushort ProvisioningService = 0x1827, ProxyService = 0x1828, Solicitation = 0x1859;

    /// <summary>Adds a frame to a block.</summary>
    public static void Add(in CapturedFrame frame, FrameBlock block)
    {
        if (frame.TimeNs is > CapturedFrame.LatestNs or < CapturedFrame.EarliestNs && frame.TimeNs != CapturedFrame.NoTime)
            AddTimed(frame with { TimeNs = CapturedFrame.NoTime }, block);
        else
            AddTimed(in frame, block);
    }

    /// <summary>The row of a frame of which nothing is read yet.</summary>
    public static void Begin(ref FrameRow row, in CapturedFrame frame)
    {
        row.TimeNsField = frame.TimeNs;
        row.Packed = FrameRow.NothingPacked;
        row.Content = -1;
        row.OffsetLow = (uint)(frame.FileOffset & 0xFFFF_FFFF);
        row.ReceiverField = (ushort)frame.Receiver;
        row.CarriesField = Carries.None;
        row.RssiField = FrameRow.NoRssi;
        row.ProblemField = FrameProblem.None;
        row.OffsetHigh = (ushort)((frame.FileOffset >> 32) & 0xFFFF);
    }

    /// <summary>What the first advertisement in a frame tells of it.</summary>
    public static void Describe(ref FrameRow row, in Advertisement advertisement)
    {
        row.Packed = FrameRow.Pack(advertisement.Advertiser, advertisement.HasAdvertiser, advertisement.AdvertiserIsRandom,
            (int?)advertisement.PduType, advertisement.Channel, (CrcState)advertisement.Crc);
        row.RssiField = (sbyte)(advertisement.RssiDbm is { } rssi and >= sbyte.MinValue and < FrameRow.NoRssi ? rssi : FrameRow.NoRssi);
        row.CarriesField = advertisement.IsConnection ? Carries.Connection : Carries.None;
        row.ProblemField = advertisement.Problem switch
        {
            LinkProblem.BadCrc => FrameProblem.BadCrc,
            LinkProblem.Truncated => FrameProblem.Truncated,
            LinkProblem.Malformed => FrameProblem.Malformed,
            LinkProblem.UnsupportedLinkType => FrameProblem.UnsupportedLinkType,
            _ => advertisement.Crc == CrcCheck.Bad ? FrameProblem.BadCrc : FrameProblem.None,
        };
    }

    /// <summary>An advertisement whose AD structures are there to be read.</summary>
    public static bool IsWhole(in Advertisement advertisement) =>
        advertisement.Problem == LinkProblem.None && advertisement.Crc != CrcCheck.Bad && !advertisement.IsConnection;

    /// <summary>Reads the AD structures of an advertisement of the frame that was added last.</summary>
    /// <param name="row">Row of the frame.</param>
    /// <param name="advertisement">The advertisement.</param>
    /// <param name="block">Gets the contents.</param>
    /// <param name="device">Device UUID that its advertiser told (service data of the Mesh Provisioning Service), or null.</param>
    public static void TakeStructures(ref FrameRow row, in Advertisement advertisement, FrameBlock block, out Guid? device)
    {
        device = null;
        Carries carries = Carries.None;
        var structures = new AdStructureReader(advertisement.AdvData);
        while (structures.MoveNext())
        {
            ReadOnlySpan<byte> data = structures.Data;
            switch (structures.Type)
            {
                case AdType.MeshMessage:
                    carries |= Carries.MeshMessage;
                    AddContent(ref row, ContentKind.MeshMessage, data, block);
                    break;
                case AdType.PbAdv:
                    carries |= Carries.ProvisioningBearer;
                    AddContent(ref row, ContentKind.PbAdv, data, block);
                    break;
                case AdType.MeshBeacon when !data.IsEmpty:
                    carries |= TakeBeacon(ref row, data, block);
                    break;
                case AdType.ServiceData16 when data.Length >= 2:
                    carries |= TakeServiceData(data, ref device);
                    break;
            }
        }
        if (structures.Problem.IsProblem && row.ProblemField == FrameProblem.None)
            row.ProblemField = FrameProblem.Malformed;
        row.CarriesField |= carries == Carries.None ? Carries.Other : carries;
    }

    private static void AddTimed(in CapturedFrame frame, FrameBlock block)
    {
        ref FrameRow row = ref block.Add();
        Begin(ref row, in frame);
        if (frame.LinkType == LinkType.LeLinkLayerWithBoardHeader && RecorderCounters.TryRead(in frame, out PreparedCounter counter))
            block.Counters.Add(counter);
        if (frame.LinkType == LinkType.TextLog)
        {
            block.Keep(in frame);
            return;
        }
        int position = 0;
        bool first = true;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (first)
                Describe(ref row, in advertisement);
            first = false;
            Guid? device = null;
            if (IsWhole(in advertisement))
                TakeStructures(ref row, in advertisement, block, out device);
            if (!advertisement.TellsOfConnection && !(device is not null && advertisement.HasAdvertiser))
                continue;
            block.Keep(in frame);
            return;
        }
        if (!first)
            return;
        row.CarriesField = Carries.Other;
        if (ConnectionReader.MayTellWithoutAdvertisement(frame.LinkType))
            block.Keep(in frame);
    }

    private static Carries TakeServiceData(ReadOnlySpan<byte> data, ref Guid? device)
    {
        ushort service = BinaryPrimitives.ReadUInt16LittleEndian(data);
        if (service == ProvisioningService && ProvisioningServiceData.TryRead(data[2..], out ProvisioningServiceData told, out _))
            device = told.DeviceGuid;
        return service switch
        {
            ProvisioningService => Carries.ProvisioningService,
            ProxyService => Carries.ProxyService,
            Solicitation => Carries.Solicitation,
            _ => Carries.None,
        };
    }

    private static Carries TakeBeacon(ref FrameRow row, ReadOnlySpan<byte> data, FrameBlock block)
    {
        switch (data[0])
        {
            case UnprovisionedBeacon:
                AddContent(ref row, ContentKind.UnprovisionedBeacon, data, block);
                return Carries.UnprovisionedBeacon;
            case SecureBeacon:
                AddContent(ref row, ContentKind.SecureBeacon, data, block);
                return Carries.SecureNetworkBeacon;
            case PrivateBeacon:
                AddContent(ref row, ContentKind.PrivateBeacon, data, block);
                return Carries.PrivateBeacon;
            default:
                return Carries.Other;
        }
    }

    private static void AddContent(ref FrameRow row, ContentKind kind, ReadOnlySpan<byte> octets, FrameBlock block)
    {
        if (octets.Length > ContentKey.MostOctets)
            row.ProblemField = FrameProblem.Malformed;      // longer than a mesh AD structure can be (Mesh Protocol 1.1 §3.3.1)
        else
            block.Add(kind, octets);
    }
}
