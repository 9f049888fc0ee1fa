using System.Runtime.InteropServices;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Reports.Words;

/// <summary>
/// What is wrong with payloads, and whether their opcode is defined. Short payloads come again and again, a state and a transaction number: each is read once.
/// </summary>
/// <param name="vendor">Names of vendor messages, or null.</param>
internal sealed class PayloadChecks(VendorCatalogue? vendor)
{
    /// <summary>Payloads remembered, at most; and their octets.</summary>
    private const int MostRemembered = 4_096, MostOctets = 15;

    private readonly Dictionary<Key, (DecodeProblem Problem, bool Defined)> _remembered = [];

    /// <param name="isControl">True for a transport control message, whose opcode is not among its octets.</param>
    /// <param name="opcode">Its opcode.</param>
    /// <param name="payload">As decrypted: of an access message with its opcode.</param>
    public (DecodeProblem Problem, bool Defined) Of(bool isControl, Opcode opcode, ReadOnlySpan<byte> payload)
    {
        if (payload.Length > MostOctets)
            return Read(isControl, opcode, payload);
        // The octets, their number behind them, and the opcode with a bit that none has where it is a control message's.
        Span<byte> octets = stackalloc byte[MostOctets + 1];
        octets.Clear();
        payload.CopyTo(octets);
        octets[MostOctets] = (byte)payload.Length;
        var key = new Key(MemoryMarshal.Read<ulong>(octets), MemoryMarshal.Read<ulong>(octets[sizeof(ulong)..]), isControl ? opcode.Value | 0x8000_0000 : opcode.Value);
        if (_remembered.TryGetValue(key, out (DecodeProblem, bool) before))
            return before;
        if (_remembered.Count == MostRemembered)
            _remembered.Clear();
        return _remembered[key] = Read(isControl, opcode, payload);
    }

    private (DecodeProblem Problem, bool Defined) Read(bool isControl, Opcode opcode, ReadOnlySpan<byte> payload)
    {
        if (isControl)
        {
            DecodedControl control = ControlReader.Read((byte)opcode.Value, payload);
            return (control.Problem, control.Definition is not null);
        }
        DecodedMessage decoded = AccessReader.Read(payload, vendor);
        return (decoded.Problem, decoded.Definition is not null || decoded.Problem.IsProblem);
    }

    /// <summary>A short payload with its length, and its opcode: asked for once a message, so its hash is two multiplications.</summary>
    private readonly record struct Key(ulong First, ulong Last, uint Opcode)
    {
        public override int GetHashCode() => unchecked((int)(((First * 0x9E3779B97F4A7C15) ^ ((Last + Opcode) * 0xC2B2AE3D27D4EB4F)) >> 32));
    }
}
