using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Common extended advertising payload of ADV_EXT_IND and the AUX PDUs (Bluetooth Core Specification, volume 6 part B
/// §2.3.4).</summary>
/// <remarks>
/// Extended Header Length(6, low) | AdvMode(2); if the length is not 0: flags(8), then as told by flag bits 0-6: AdvA(6) TargetA(6)
/// CTEInfo(1)
/// ADI(2) AuxPtr(3) SyncInfo(18) TxPower(1), ACAD to the header's end; AdvData to the end of the PDU.
/// </remarks>
public readonly ref struct ExtendedAdvertisingHeader
{
    private const int FieldCount = 7;
    private const int LongestHeader = 63;
    private readonly ReadOnlySpan<byte> _payload;

    private ExtendedAdvertisingHeader(ReadOnlySpan<byte> payload) => _payload = payload;

    private static ReadOnlySpan<byte> FieldLengths => [6, 6, 1, 2, 3, 18, 1];

    private int HeaderLength => _payload[0] & 0x3F;
    private int Flags => HeaderLength == 0 ? 0 : _payload[1];

    /// <summary>0 neither connectable nor scannable, 1 connectable, 2 scannable, 3 reserved.</summary>
    public byte AdvMode => (byte)(_payload[0] >> 6);

    public bool HasAdvA => Has(0);
    public ulong AdvA => HasAdvA ? AdvertisingPdu.ReadAddress(Field(0)) : 0;
    public bool HasTargetA => Has(1);
    public ulong TargetA => HasTargetA ? AdvertisingPdu.ReadAddress(Field(1)) : 0;
    public byte? CteInfo => Has(2) ? Field(2)[0] : null;

    /// <summary>Advertising Data ID (12 bits), or null.</summary>
    public int? Did => Has(3) ? BinaryPrimitives.ReadUInt16LittleEndian(Field(3)) & 0x0FFF : null;

    /// <summary>Advertising Set ID (4 bits), or null.</summary>
    public int? Sid => Has(3) ? BinaryPrimitives.ReadUInt16LittleEndian(Field(3)) >> 12 : null;

    /// <summary>AuxPtr as a 24-bit number, or null: where the auxiliary packet follows.</summary>
    public int? AuxPtr => Has(4) ? Field(4)[0] | (Field(4)[1] << 8) | (Field(4)[2] << 16) : null;

    /// <summary>Channel index (0-36) of the auxiliary packet, or null.</summary>
    public int? AuxChannelIndex => AuxPtr & 0x3F;

    /// <summary>Time from the start of this packet to the auxiliary one in microseconds, or null.</summary>
    public int? AuxOffsetUs => AuxPtr is { } pointer ? ((pointer >> 8) & 0x1FFF) * ((pointer & 0x80) != 0 ? 300 : 30) : null;

    /// <summary>PHY of the auxiliary packet: 0 LE 1M, 1 LE 2M, 2 LE Coded; or null.</summary>
    public int? AuxPhy => AuxPtr >> 21;

    /// <summary>18 octets, or empty.</summary>
    public ReadOnlySpan<byte> SyncInfo => Has(5) ? Field(5) : default;

    public int? TxPowerDbm => Has(6) ? unchecked((sbyte)Field(6)[0]) : null;

    /// <summary>Additional controller advertising data.</summary>
    public ReadOnlySpan<byte> Acad => HeaderLength == 0 ? default : _payload[OffsetOf(FieldCount)..(1 + HeaderLength)];

    public ReadOnlySpan<byte> AdvData => _payload[(1 + HeaderLength)..];

    private bool Has(int field) => (Flags >> field & 1) != 0;

    private ReadOnlySpan<byte> Field(int field) => _payload.Slice(OffsetOf(field), FieldLengths[field]);

    private int OffsetOf(int field) => 2 + LengthOfFields(Flags & ((1 << field) - 1));

    private static int LengthOfFields(int flags)
    {
        int length = 0;
        for (int field = 0; field < FieldCount; field++)
            if ((flags >> field & 1) != 0)
                length += FieldLengths[field];
        return length;
    }

    /// <summary>Every check is here; once it has returned true, no property can fail. Flag bit 7 is reserved and ignored.</summary>
    /// <param name="payload">The payload of the PDU, without its two header octets.</param>
    public static bool TryRead(ReadOnlySpan<byte> payload, out ExtendedAdvertisingHeader header, out DecodeProblem problem)
    {
        header = default;
        problem = DecodeProblem.None;
        if (payload.IsEmpty)
        {
            problem = DecodeProblem.TooShort(Layer.Link, 1, 0, "Extended Header Length");
            return false;
        }
        int headerLength = payload[0] & 0x3F;
        if (payload.Length < 1 + headerLength)
            problem = DecodeProblem.TooShort(Layer.Link, 1 + headerLength, payload.Length, "Extended Header");
        else if (headerLength != 0 && headerLength < 1 + LengthOfFields(payload[1]))
            problem = DecodeProblem.WrongValue(Layer.Link, 0, "Extended Header Length", headerLength);
        else
            header = new ExtendedAdvertisingHeader(payload);
        return !problem.IsProblem;
    }

    /// <summary>Writes a payload with any of the fields (null or empty: absent) and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, byte advMode, ulong? advA, ulong? targetA, byte? cteInfo, ushort? adi, int? auxPtr,
        ReadOnlySpan<byte> syncInfo, sbyte? txPowerDbm, ReadOnlySpan<byte> acad, ReadOnlySpan<byte> advData)
    {
        int flags = (advA is null ? 0 : 0x01) | (targetA is null ? 0 : 0x02) | (cteInfo is null ? 0 : 0x04) | (adi is null ? 0 : 0x08)
            | (auxPtr is null ? 0 : 0x10) | (syncInfo.IsEmpty ? 0 : 0x20) | (txPowerDbm is null ? 0 : 0x40);
        int fields = LengthOfFields(flags);
        int headerLength = flags == 0 && acad.IsEmpty ? 0 : 1 + fields + acad.Length;
        ArgumentOutOfRangeException.ThrowIfGreaterThan(headerLength, LongestHeader, nameof(acad));
        if (!syncInfo.IsEmpty && syncInfo.Length != FieldLengths[5])
            throw new ArgumentException("SyncInfo has 18 octets.", nameof(syncInfo));
        destination[0] = (byte)(headerLength | ((advMode & 3) << 6));
        int at = 1;
        if (headerLength != 0)
            destination[at++] = (byte)flags;
        if (advA is { } a)
            AdvertisingPdu.WriteAddress(destination[at..], a);
        at += advA is null ? 0 : AdvertisingPdu.AddressLength;
        if (targetA is { } t)
            AdvertisingPdu.WriteAddress(destination[at..], t);
        at += targetA is null ? 0 : AdvertisingPdu.AddressLength;
        if (cteInfo is { } c)
            destination[at++] = c;
        if (adi is { } d)
            BinaryPrimitives.WriteUInt16LittleEndian(destination[at..], d);
        at += adi is null ? 0 : 2;
        if (auxPtr is { } p)
        {
            destination[at++] = (byte)(p & 0xFF);
            destination[at++] = (byte)((p >> 8) & 0xFF);
            destination[at++] = (byte)((p >> 16) & 0xFF);
        }
        syncInfo.CopyTo(destination[at..]);
        at += syncInfo.Length;
        if (txPowerDbm is { } power)
            destination[at++] = unchecked((byte)power);
        acad.CopyTo(destination[at..]);
        at += acad.Length;
        advData.CopyTo(destination[at..]);
        return at + advData.Length;
    }
}
