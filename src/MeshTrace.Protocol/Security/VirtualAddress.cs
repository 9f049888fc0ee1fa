using System.Buffers.Binary;

namespace MeshTrace.Protocol.Security;

/// <summary>The address that stands for a Label UUID on the air (Mesh Protocol 1.1 §3.4.2.3).</summary>
public static class VirtualAddress
{
    /// <summary>
    /// 0b10 and the low 14 bits of AES-CMAC over the label with the salt s1("vtad"). Several labels can share an address.
    /// </summary>
    /// <exception cref="ArgumentException">The label has not 16 octets.</exception>
    public static MeshAddress Of(ReadOnlySpan<byte> labelUuid)
    {
        if (labelUuid.Length != 16)
            throw new ArgumentException("A Label UUID has 16 octets.", nameof(labelUuid));
        Span<byte> mac = stackalloc byte[AesCmac.Length];
        KeyDerivation.S1("vtad"u8, mac);
        AesCmac.Compute(new AesKey(mac), labelUuid, mac);
        return new MeshAddress((ushort)(0x8000 | (BinaryPrimitives.ReadUInt16BigEndian(mac[14..]) & 0x3FFF)));
    }
}
