using System.Globalization;

namespace MeshTrace.Protocol;

/// <summary>The four kinds of mesh address (Mesh Protocol 1.1 §3.4.2).</summary>
public enum AddressKind : byte
{
    Unassigned,
    Unicast,
    Virtual,
    Group,
}

/// <summary>A 16-bit mesh address (Mesh Protocol 1.1 §3.4.2). Written <c>0x0003</c>.</summary>
public readonly record struct MeshAddress(ushort Value) : IComparable<MeshAddress>
{
    public static readonly MeshAddress Unassigned = new(0x0000);

    /// <summary>All directed forwarding nodes.</summary>
    public static readonly MeshAddress AllDirectedForwardingNodes = new(0xFFFB);
    public static readonly MeshAddress AllProxies = new(0xFFFC);
    public static readonly MeshAddress AllFriends = new(0xFFFD);
    public static readonly MeshAddress AllRelays = new(0xFFFE);
    public static readonly MeshAddress AllNodes = new(0xFFFF);

    /// <summary>Table 3.3 of §3.4.2: 0 unassigned; 0x0001-0x7FFF unicast; 0x8000-0xBFFF virtual; 0xC000-0xFFFF group.</summary>
    public AddressKind Kind => Value switch
    {
        0 => AddressKind.Unassigned,
        < 0x8000 => AddressKind.Unicast,
        < 0xC000 => AddressKind.Virtual,
        _ => AddressKind.Group,
    };

    public bool IsUnicast => Kind == AddressKind.Unicast;
    public bool IsVirtual => Kind == AddressKind.Virtual;
    public bool IsGroup => Kind == AddressKind.Group;

    /// <summary>0xFFFB-0xFFFF: the fixed group addresses, which no subscription list names.</summary>
    public bool IsFixedGroup => Value >= 0xFFFB;

    /// <summary>Reads <c>0x0003</c>, <c>0003</c> or <c>3</c>, always as hexadecimal.</summary>
    public static bool TryParse(ReadOnlySpan<char> text, out MeshAddress address)
    {
        address = default;
        text = text.Trim();
        if (text.StartsWith("0x", StringComparison.OrdinalIgnoreCase))
            text = text[2..];
        if (text.Length is 0 or > 4 || !ushort.TryParse(text, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ushort value))
            return false;
        address = new MeshAddress(value);
        return true;
    }

    public int CompareTo(MeshAddress other) => Value.CompareTo(other.Value);
    public static bool operator <(MeshAddress left, MeshAddress right) => left.Value < right.Value;
    public static bool operator >(MeshAddress left, MeshAddress right) => left.Value > right.Value;
    public static bool operator <=(MeshAddress left, MeshAddress right) => left.Value <= right.Value;
    public static bool operator >=(MeshAddress left, MeshAddress right) => left.Value >= right.Value;

    /// <inheritdoc />
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"0x{Value:X4}");
}
