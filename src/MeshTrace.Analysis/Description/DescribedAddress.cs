using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Description;

/// <summary>An address as a description gives it: 16 bits, or a label UUID and the virtual address that follows from it.</summary>
/// <param name="Address">The address as it stands in a Network PDU.</param>
/// <param name="Label">The label UUID of a virtual address; null for any other, and for a virtual address written without its label.</param>
public readonly record struct DescribedAddress(MeshAddress Address, Guid? Label = null)
{
    /// <summary>The virtual address of a label UUID (Mesh Protocol 1.1 §3.4.2.3).</summary>
    public static DescribedAddress OfLabel(Guid label)
    {
        Span<byte> octets = stackalloc byte[16];
        label.TryWriteBytes(octets, bigEndian: true, out _);
        return new DescribedAddress(VirtualAddress.Of(octets), label);
    }

    /// <summary>The 16-bit address only: a label UUID goes into the TransMIC and is shown where it is asked for.</summary>
    public override string ToString() => Address.ToString();
}
