using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <summary>
/// Eight Network PDUs that take the steps of <see cref="NetworkOpening.Open"/> side by side, on the processor's AES rounds. The steps are to be called in the order
/// in which they stand here; between two of them another eight can take theirs.
/// </summary>
internal struct NetworkLanes
{
    public const int Count = Eight<int>.Count;

    private Eight<NetworkOpening> _openings;

    /// <summary>The blocks that come next: of the obfuscation, then of the MAC. In the end the MAC of PDUs with up to 16 encrypted octets.</summary>
    private Eight<Vector128<byte>> _blocks;

    /// <summary>In the end the MAC of PDUs with more, whose MAC takes a third block.</summary>
    private Eight<Vector128<byte>> _thirdBlocks;

    /// <summary>A_0, later S_0.</summary>
    private Eight<Vector128<byte>> _s0;

    /// <summary>S_1 and S_2, later the plaintext that came of them.</summary>
    private Eight<Vector128<byte>> _first, _second;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public void Begin(int lane, ReadOnlySpan<byte> pdu, uint ivIndex)
    {
        ref NetworkOpening opening = ref _openings[lane];
        opening.Begin(pdu, ivIndex);
        _blocks[lane] = opening.PrivacyPlaintext;
    }

    /// <summary>All steps of one lane but the last, on either path of AES.</summary>
    public void OpenAlone(int lane, AesKey privacy, AesKey encryption)
    {
        _blocks[lane] = _openings[lane].Open(privacy, encryption, NetworkSecurity.Nonce.Network, out _first[lane], out _second[lane]);
        _thirdBlocks[lane] = _blocks[lane];
        _s0[lane] = default;    // is in the block already
    }

    public void EncryptPrivacyPlaintexts(AesKey privacy) => privacy.EncryptProcessor(in _blocks, Vector128<byte>.Zero, ref _blocks);

    public void Deobfuscate()
    {
        for (int i = 0; i < Count; i++)
        {
            _s0[i] = _openings[i].Deobfuscate(_blocks[i], NetworkSecurity.Nonce.Network, out Vector128<byte> b0);
            _blocks[i] = b0;
        }
    }

    public void EncryptFirstCounters(AesKey encryption) => encryption.EncryptProcessor(in _s0, NetworkOpening.Counter(1), ref _first);

    public void EncryptSecondCounters(AesKey encryption) => encryption.EncryptProcessor(in _s0, NetworkOpening.Counter(2), ref _second);

    public void EncryptFirstMacBlocks(AesKey encryption) => encryption.EncryptProcessor(in _blocks, Vector128<byte>.Zero, ref _blocks);

    public void Decrypt()
    {
        for (int i = 0; i < Count; i++)
        {
            ref NetworkOpening opening = ref _openings[i];
            _first[i] = opening.DecryptFirst(_first[i]);
            _second[i] = opening.DecryptSecond(_second[i]);
        }
    }

    /// <summary>A_0 to S_0, any time after the other counters: only the last step asks for it.</summary>
    public void EncryptCounters(AesKey encryption) => encryption.EncryptProcessor(in _s0, Vector128<byte>.Zero, ref _s0);

    public void EncryptSecondMacBlocks(AesKey encryption) => encryption.EncryptProcessor(in _blocks, in _first, ref _blocks);

    public void EncryptThirdMacBlocks(AesKey encryption) => encryption.EncryptProcessor(in _blocks, in _second, ref _thirdBlocks);

    /// <summary>The last step, of one lane: compares the NetMIC and, where it fits, writes the clear PDU.</summary>
    /// <returns>False where it does not fit, or the length is none of a Network PDU. Nothing is written then, and <paramref name="length"/> is 0.</returns>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly bool TryTake(int lane, Span<byte> clear, out int length)
    {
        ref readonly NetworkOpening opening = ref _openings[lane];
        length = 0;
        if (!opening.Fits(opening.LastMacBlock(_blocks[lane], _thirdBlocks[lane]) ^ _s0[lane], NetworkSecurity.Nonce.Network))
            return false;
        length = opening.ClearLength;
        opening.Store(_first[lane], _second[lane], clear);
        return true;
    }
}
