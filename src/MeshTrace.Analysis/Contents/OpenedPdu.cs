using System.Diagnostics.CodeAnalysis;
using System.Runtime.CompilerServices;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Contents;

/// <summary>Result of trying the keys on one content: passes from the opening, which runs over batches, to the floods, which need order.</summary>
internal struct OpenedPdu
{
    internal ClearOctets Clear;
    internal byte Length;
    internal ContentState State;
    internal CredentialsKind Credentials;

    /// <summary>How many keys and IV indexes were tried.</summary>
    internal ushort Tries;
    internal int Subnet;
    internal uint IvIndex;

    [UnscopedRef]
    public readonly ReadOnlySpan<byte> ClearPdu => ((ReadOnlySpan<byte>)Clear)[..Length];
}

/// <summary>Room for the longest clear Network PDU, and for what is faster written as a whole than cut off behind it.</summary>
[InlineArray(32)]
internal struct ClearOctets
{
    private byte _first;
}
