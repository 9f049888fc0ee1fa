using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>What an HCI event tells of an LE connection.</summary>
public enum HciConnectionChange : byte
{
    Connected,
    Disconnected,
    EncryptionChanged,
}

/// <summary>
/// The HCI events that begin, end and encrypt a connection (Bluetooth Core Specification, volume 4 part E §7.7.65.1, §7.7.65.10, §7.7.5, §7.7.8;
/// numbers and layouts from memory).
/// </summary>
/// <remarks>
/// LE Connection Complete (event 0x3E, subevent 0x01): Status(8) Connection_Handle(16) Role(8) Peer_Address_Type(8) Peer_Address(48) and intervals; the
/// enhanced form (0x0A, and 0x29) begins the same. Disconnection Complete (0x05): Status(8) Connection_Handle(16) Reason(8). Encryption Change (0x08,
/// and 0x59): Status(8) Connection_Handle(16) Encryption_Enabled(8).
/// </remarks>
public readonly ref struct HciLeEvent
{
    private const byte DisconnectionComplete = 0x05, EncryptionChange = 0x08, EncryptionChangeV2 = 0x59;
    private const byte ConnectionComplete = 0x01, EnhancedConnectionComplete = 0x0A, EnhancedConnectionCompleteV2 = 0x29;
    private const int HeaderLength = 2, ConnectedLength = 11, OtherLength = 4;

    private readonly ReadOnlySpan<byte> _parameters;    // from Status on

    private HciLeEvent(HciConnectionChange change, ReadOnlySpan<byte> parameters)
    {
        Change = change;
        _parameters = parameters;
    }

    public HciConnectionChange Change { get; }

    /// <summary>0 for success; otherwise the event tells of a failure and changes nothing.</summary>
    public byte Status => _parameters[0];

    /// <summary>Connection handle.</summary>
    public ushort Handle => (ushort)(BinaryPrimitives.ReadUInt16LittleEndian(_parameters[1..]) & 0x0FFF);

    /// <summary>Of Connected: the host whose log this is is the central.</summary>
    public bool IsCentral => Change == HciConnectionChange.Connected && _parameters[3] == 0;

    /// <summary>Of Connected: the device at the other end.</summary>
    public ulong PeerAddress => Change == HciConnectionChange.Connected ? AdvertisingPdu.ReadAddress(_parameters[5..]) : 0;

    /// <summary>Of Connected.</summary>
    public bool PeerIsRandom => Change == HciConnectionChange.Connected && (_parameters[4] & 1) != 0;

    /// <summary>Of Disconnected: the reason as an HCI error code.</summary>
    public byte Reason => Change == HciConnectionChange.Disconnected ? _parameters[3] : (byte)0;

    /// <summary>Of EncryptionChanged.</summary>
    public bool IsEncrypted => Change == HciConnectionChange.EncryptionChanged && _parameters[3] != 0;

    /// <summary>Every check is here; once it has returned true, no property can fail. False, without a problem, for all other events.</summary>
    /// <param name="octets">From the event code on.</param>
    public static bool TryRead(ReadOnlySpan<byte> octets, out HciLeEvent happened, out DecodeProblem problem)
    {
        happened = default;
        problem = DecodeProblem.None;
        if (octets.Length < HeaderLength + 1)
        {
            problem = DecodeProblem.TooShort(Layer.Link, HeaderLength + 1, octets.Length);
            return false;
        }
        ReadOnlySpan<byte> parameters = octets[HeaderLength..];
        HciConnectionChange change;
        switch (octets[0])
        {
            case HciReader.LeMetaEvent when parameters[0] is ConnectionComplete or EnhancedConnectionComplete or EnhancedConnectionCompleteV2:
                parameters = parameters[1..];
                change = HciConnectionChange.Connected;
                break;
            case DisconnectionComplete:
                change = HciConnectionChange.Disconnected;
                break;
            case EncryptionChange or EncryptionChangeV2:
                change = HciConnectionChange.EncryptionChanged;
                break;
            default:
                return false;
        }
        int needed = change == HciConnectionChange.Connected ? ConnectedLength : OtherLength;
        if (parameters.Length < needed)
            problem = DecodeProblem.TooShort(Layer.Link, needed, parameters.Length);
        else
            happened = new HciLeEvent(change, parameters);
        return !problem.IsProblem;
    }

    /// <summary>Writes an LE Connection Complete event and returns its length.</summary>
    public static int WriteConnected(Span<byte> packet, ushort handle, bool isCentral, ulong peer, bool peerIsRandom, ushort interval)
    {
        packet[..21].Clear();
        packet[0] = HciReader.LeMetaEvent;
        packet[1] = 19;
        packet[2] = ConnectionComplete;
        BinaryPrimitives.WriteUInt16LittleEndian(packet[4..], handle);
        packet[6] = (byte)(isCentral ? 0 : 1);
        packet[7] = (byte)(peerIsRandom ? 1 : 0);
        AdvertisingPdu.WriteAddress(packet[8..], peer);
        BinaryPrimitives.WriteUInt16LittleEndian(packet[14..], interval);
        BinaryPrimitives.WriteUInt16LittleEndian(packet[18..], 500);    // supervision timeout: 5 s
        return 21;
    }

    /// <summary>Writes a Disconnection Complete event and returns its length.</summary>
    public static int WriteDisconnected(Span<byte> packet, ushort handle, byte reason) => WriteOther(packet, DisconnectionComplete, handle, reason);

    /// <summary>Writes an Encryption Change event and returns its length.</summary>
    public static int WriteEncryptionChanged(Span<byte> packet, ushort handle, bool encrypted) => WriteOther(packet, EncryptionChange, handle, (byte)(encrypted ? 1 : 0));

    private static int WriteOther(Span<byte> packet, byte code, ushort handle, byte last)
    {
        packet[0] = code;
        packet[1] = OtherLength;
        packet[2] = 0;
        BinaryPrimitives.WriteUInt16LittleEndian(packet[3..], handle);
        packet[5] = last;
        return HeaderLength + OtherLength;
    }
}
