using System.Buffers.Binary;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <summary>One of several Network PDUs that are opened together (<see cref="NetworkSecurity.DecryptFour"/>), and what came of it.</summary>
public ref struct NetworkTask
{
    /// <param name="pdu">The PDU.</param>
    /// <param name="credentials">The credentials to try.</param>
    /// <param name="ivIndex">The IV index to try.</param>
    /// <param name="clear">At least as long as the PDU, and not its memory; not written to where it does not open.</param>
    public NetworkTask(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, uint ivIndex, Span<byte> clear)
    {
        Pdu = pdu;
        Credentials = credentials;
        IvIndex = ivIndex;
        Clear = clear;
    }

    public ReadOnlySpan<byte> Pdu { get; }
    public NetworkCredentials Credentials { get; }
    public uint IvIndex { get; }
    public Span<byte> Clear { get; }

    /// <summary>Octets of the clear PDU; 0 where the NetMIC does not fit, or the length is none of a Network PDU.</summary>
    public int Length { readonly get; internal set; }

    internal readonly Vector128<byte> PrivacyPlaintext => NetworkSecurity.PrivacyPlaintext(Pdu, BinaryPrimitives.ReverseEndianness(IvIndex));
}
