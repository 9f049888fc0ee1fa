using System.Runtime.InteropServices;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Transfers;

/// <summary>Which kind of key protects an access message (AKF of its lower transport PDU), and whether it was found.</summary>
public enum MessageKey : byte
{
    /// <summary>Control messages: NetKey alone.</summary>
    None,
    Application,
    Device,
}

/// <summary>One whole upper-transport message, after reassembly: 64 octets, laid out by the runtime.</summary>
[StructLayout(LayoutKind.Auto)]
public struct MessageRow
{
    internal long PayloadAt;
    internal int FirstFloodLink;    // floods that carried it: chained in History

    /// <summary>True for a control message.</summary>
    public bool IsControl { get; internal set; }

    /// <summary>First hearing of the flood that completed or, unsegmented, is the message.</summary>
    public long TimeNs { get; internal set; }
    public MeshAddress Src { get; internal set; }
    public MeshAddress Dst { get; internal set; }

    /// <summary>SEQ of SeqAuth: of the only PDU, or of the first segment.</summary>
    public uint Seq { get; internal set; }
    public uint IvIndex { get; internal set; }

    /// <summary>Highest TTL heard over its floods.</summary>
    public byte Ttl { get; internal set; }

    /// <summary>Row in <see cref="Keys.KeyRing.Subnets"/>.</summary>
    public int Subnet { get; internal set; }
    public MessageKey Key { get; internal set; }

    /// <summary>Row in <see cref="Keys.KeyRing.AppKeys"/>, or -1.</summary>
    public int AppKey { get; internal set; }

    /// <summary>Node whose device key opened it, or unassigned.</summary>
    public MeshAddress DeviceKeyOf { get; internal set; }

    /// <summary>Row in <see cref="Keys.KeyRing.Labels"/> of the label UUID that was the additional data, or -1.</summary>
    public int Label { get; internal set; }

    /// <summary>32 or 64 for access messages, 0 for control.</summary>
    public byte TransMicBits { get; internal set; }

    /// <summary>SegN + 1, or 0 when unsegmented.</summary>
    public byte Segments { get; internal set; }
    public bool Decrypted { get; internal set; }

    /// <summary>Row of the transfer that brought it, or -1 when unsegmented.</summary>
    public int Transfer { get; internal set; }

    /// <summary>Length of the payload (decrypted access payload, or control parameters).</summary>
    public int PayloadLength { get; internal set; }

    /// <summary>Opcode of a decrypted access message; for a control message the 7-bit opcode. 0 when not decrypted or not readable.</summary>
    public Opcode Opcode { get; internal set; }
}
