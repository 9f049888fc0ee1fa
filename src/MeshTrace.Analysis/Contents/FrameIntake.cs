using System.Buffers.Binary;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Contents;

/// <summary>Takes frames as they come: one row each, and the distinct mesh contents they carry. Runs for every frame, so nothing here allocates.</summary>
internal sealed class FrameIntake(CaptureHistory history, ConnectionIntake connections, TextLogIntake lines)
{
    /// <summary>First octet of a mesh beacon AD structure (Mesh Protocol 1.1 §3.10.1).</summary>
    private const byte UnprovisionedBeacon = 0x00, SecureBeacon = 0x01, PrivateBeacon = 0x02;

    /// <summary>Service UUIDs of mesh in service data (assigned numbers).</summary>
    private const ushort ProvisioningService = 0x1827, ProxyService = 0x1828, Solicitation = 0x1859;

    private readonly RecorderCounters _counters = new(history.RecorderLosses);

    public void Add(in CapturedFrame frame)
    {
        if (frame.TimeNs is > CapturedFrame.LatestNs or < CapturedFrame.EarliestNs && frame.TimeNs != CapturedFrame.NoTime)
            Take(frame with { TimeNs = CapturedFrame.NoTime });
        else
            Take(in frame);
    }

    private void Take(in CapturedFrame frame)
    {
        if (frame.LinkType == LinkType.LeLinkLayerWithBoardHeader)
            _counters.Take(in frame);
        int position = 0;
        bool first = true;
        var row = new FrameRow
        {
            TimeNsField = frame.TimeNs, Content = -1, OffsetLow = (uint)(frame.FileOffset & 0xFFFF_FFFF), OffsetHigh = (ushort)((frame.FileOffset >> 32) & 0xFFFF),
            ReceiverField = (ushort)frame.Receiver, RssiField = FrameRow.NoRssi, Packed = FrameRow.Pack(0, false, false, null, null, CrcState.Unknown),
        };
        if (frame.LinkType == LinkType.TextLog)
        {
            lines.Take(in frame, ref row);
            history.Frames.Add(in row);
            return;
        }
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (first)
                Describe(ref row, in advertisement);
            first = false;
            if (advertisement.Problem == LinkProblem.None && advertisement.Crc != CrcCheck.Bad && !advertisement.IsConnection)
                TakeStructures(ref row, in advertisement);
            if (advertisement.TellsOfConnection)
                connections.Take(in frame, in advertisement, ref row);
        }
        if (first)
        {
            row.CarriesField = Carries.Other;
            if (ConnectionReader.MayTellWithoutAdvertisement(frame.LinkType))
                connections.Take(in frame, default, ref row);
        }
        history.Frames.Add(in row);
    }

    private static void Describe(ref FrameRow row, in Advertisement advertisement)
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

    private void TakeStructures(ref FrameRow row, in Advertisement advertisement)
    {
        Carries carries = Carries.None;
        var structures = new AdStructureReader(advertisement.AdvData);
        while (structures.MoveNext())
        {
            ReadOnlySpan<byte> data = structures.Data;
            switch (structures.Type)
            {
                case AdType.MeshMessage:
                    carries |= Carries.MeshMessage;
                    Intern(ref row, ContentKind.MeshMessage, data);
                    break;
                case AdType.PbAdv:
                    carries |= Carries.ProvisioningBearer;
                    Intern(ref row, ContentKind.PbAdv, data);
                    break;
                case AdType.MeshBeacon when !data.IsEmpty:
                    carries |= TakeBeacon(ref row, data);
                    break;
                case AdType.ServiceData16 when data.Length >= 2:
                    carries |= BinaryPrimitives.ReadUInt16LittleEndian(data) switch
                    {
                        ProvisioningService => Carries.ProvisioningService,
                        ProxyService => Carries.ProxyService,
                        Solicitation => Carries.Solicitation,
                        _ => Carries.None,
                    };
                    if (advertisement.HasAdvertiser && ProvisioningServiceData.TryRead(data[2..], out ProvisioningServiceData device, out _)
                        && BinaryPrimitives.ReadUInt16LittleEndian(data) == ProvisioningService)
                        connections.NoteDevice(advertisement.Advertiser, device.DeviceGuid);
                    break;
            }
        }
        if (structures.Problem.IsProblem && row.ProblemField == FrameProblem.None)
            row.ProblemField = FrameProblem.Malformed;
        row.CarriesField |= carries == Carries.None ? Carries.Other : carries;
    }

    private Carries TakeBeacon(ref FrameRow row, ReadOnlySpan<byte> data)
    {
        switch (data[0])
        {
            case UnprovisionedBeacon:
                Intern(ref row, ContentKind.UnprovisionedBeacon, data);
                return Carries.UnprovisionedBeacon;
            case SecureBeacon:
                Intern(ref row, ContentKind.SecureBeacon, data);
                return Carries.SecureNetworkBeacon;
            case PrivateBeacon:
                Intern(ref row, ContentKind.PrivateBeacon, data);
                return Carries.PrivateBeacon;
            default:
                return Carries.Other;
        }
    }

    /// <summary>The first content goes into the frame's row, further ones into a list of their own: a frame with two is rare.</summary>
    private void Intern(ref FrameRow row, ContentKind kind, ReadOnlySpan<byte> octets)
    {
        if (octets.Length > ContentKey.MostOctets)
        {
            row.ProblemField = FrameProblem.Malformed;      // longer than a mesh AD structure can be (Mesh Protocol 1.1 §3.3.1)
            return;
        }
        int content = history.Contents.Intern(kind, octets);
        if (row.Content < 0)
            row.Content = content;
        else
            history.FurtherContents.Add((history.Frames.Count, content));
    }
}
