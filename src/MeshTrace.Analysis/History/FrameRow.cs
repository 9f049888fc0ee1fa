using System.Runtime.CompilerServices;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.History;

/// <summary>What a frame carries; several may be set.</summary>
[Flags]
public enum Carries : ushort
{
    None = 0,
    MeshMessage = 1 << 0,
    ProvisioningBearer = 1 << 1,
    SecureNetworkBeacon = 1 << 2,
    UnprovisionedBeacon = 1 << 3,
    PrivateBeacon = 1 << 4,
    ProxyService = 1 << 5,
    ProvisioningService = 1 << 6,
    Solicitation = 1 << 7,
    GattProxy = 1 << 8,
    GattProvisioning = 1 << 9,
    Connection = 1 << 10,
    Other = 1 << 11,
}

/// <summary>Why a frame could not be read further.</summary>
public enum FrameProblem : byte
{
    None,
    BadCrc,
    Truncated,
    Malformed,
    UnknownNetwork,
    UnsupportedLinkType,
}

/// <summary>Result of the CRC-24 check.</summary>
public enum CrcState : byte
{
    Unknown,
    Ok,
    Bad,
}

/// <summary>One captured frame: 32 octets. Its further detail is decoded again from the file when someone looks.</summary>
public struct FrameRow
{
    internal long TimeNsField;
    internal ulong Packed;          // advertiser 48 (without one: row of the connection + 1) | pduType 5 | hasPduType 1 | hasAdvertiser 1 | random 1 | channel 6 | crc 2
    internal int Content;           // row of the distinct mesh content, or -1
    internal uint OffsetLow;
    internal ushort ReceiverField;
    internal Carries CarriesField;
    internal sbyte RssiField;       // NoRssi where not known
    internal FrameProblem ProblemField;
    internal ushort OffsetHigh;

    internal const sbyte NoRssi = 127;      // 127 = not available, as in HCI advertising reports
    internal const int NoChannel = 63;

    /// <summary>Of the packed part: the bits of the advertiser address, and the mark that there is one.</summary>
    internal const ulong AddressMask = 0xFFFF_FFFF_FFFF, AdvertiserMark = 1ul << 54;

    /// <summary>Nanoseconds since 1970-01-01 UTC, or <see cref="CapturedFrame.NoTime"/>.</summary>
    public readonly long TimeNs => TimeNsField;

    /// <summary>Where its record begins in its file.</summary>
    public readonly long FileOffset => ((long)OffsetHigh << 32) | OffsetLow;

    public readonly int Receiver => ReceiverField;
    public readonly Carries Carries => CarriesField;
    public readonly FrameProblem Problem => ProblemField;
    public readonly CrcState Crc => (CrcState)((Packed >> 62) & 3);

    /// <summary>As <see cref="Channel"/>, but <see cref="NoChannel"/> where it is not known.</summary>
    internal readonly int ChannelField => (int)((Packed >> 56) & 63);

    /// <summary>Channel index 0-39 (37, 38, 39 advertising), or null.</summary>
    public readonly int? Channel => (int)((Packed >> 56) & 63) is var channel && channel == NoChannel ? null : channel;

    /// <summary>dBm, or null.</summary>
    public readonly int? Rssi => RssiField == NoRssi ? null : RssiField;

    public readonly bool HasAdvertiser => (Packed & AdvertiserMark) != 0;
    public readonly bool AdvertiserIsRandom => (Packed & (1ul << 55)) != 0;

    /// <summary>Advertiser address as a number, most significant octet highest; 0 where there is none.</summary>
    public readonly ulong Advertiser => HasAdvertiser ? Packed & AddressMask : 0;

    /// <summary>Row of the connection in <see cref="CaptureHistory.Connections"/> that it belongs to, or null.</summary>
    public readonly int? Connection => HasAdvertiser || (Packed & 0x7FFF_FFFF) == 0 ? null : (int)(Packed & 0x7FFF_FFFF) - 1;

    /// <summary>The 4-bit advertising PDU type, or null (data channel, unreadable).</summary>
    public readonly int? PduType => (Packed & (1ul << 53)) != 0 ? (int)((Packed >> 48) & 31) : null;

    /// <summary>Only for a frame without an advertiser.</summary>
    internal void SetConnection(int row)
    {
        if (!HasAdvertiser)
            Packed = (Packed & ~AddressMask) | (uint)(row + 1);
    }

    internal void SetCrc(CrcState crc) => Packed = (Packed & ~(3ul << 62)) | ((ulong)crc << 62);

    /// <summary>Of a frame of which nothing is known.</summary>
    internal const ulong NothingPacked = (ulong)NoChannel << 56;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal static ulong Pack(ulong advertiser, bool hasAdvertiser, bool random, int? pduType, int? channel, CrcState crc) =>
        (advertiser & AddressMask) | ((ulong)(uint)(pduType ?? 0) << 48) | (pduType is null ? 0 : 1ul << 53) | (hasAdvertiser ? AdvertiserMark : 0)
        | (random ? 1ul << 55 : 0) | ((ulong)(uint)(channel ?? NoChannel) << 56) | ((ulong)crc << 62);
}
