using System.Diagnostics.CodeAnalysis;
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
    private Eight<bool> _opened;

    /// <summary>The blocks that come next: of the obfuscation, then of the MAC, and those of the MAC over what is behind 16 octets.</summary>
    private Eight<Vector128<byte>> _blocks, _secondBlocks;

    /// <summary>A_0, later S_0; S_1 and S_2.</summary>
    private Eight<Vector128<byte>> _s0, _s1, _s2;

    [UnscopedRef]
    public readonly ref readonly NetworkOpening this[int lane] => ref _openings[lane];

    /// <summary>What came of the lane.</summary>
    public readonly bool IsOpened(int lane) => _opened[lane];

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public void Begin(int lane, ReadOnlySpan<byte> pdu, uint ivIndex)
    {
        ref NetworkOpening opening = ref _openings[lane];
        opening.Begin(pdu, ivIndex);
        _blocks[lane] = opening.PrivacyPlaintext;
    }

    /// <summary>All steps of one lane, on either path of AES.</summary>
    public void OpenAlone(int lane, AesKey privacy, AesKey encryption) => _opened[lane] = _openings[lane].Open(privacy, encryption, NetworkSecurity.Nonce.Network);

    public void EncryptPrivacyPlaintexts(AesKey privacy) => privacy.EncryptProcessor(in _blocks, Vector128<byte>.Zero, ref _blocks);

    public void Deobfuscate()
    {
        for (int i = 0; i < Count; i++)
        {
            _s0[i] = _openings[i].Deobfuscate(_blocks[i], NetworkSecurity.Nonce.Network, out Vector128<byte> b0);
            _blocks[i] = b0;
        }
    }

    public void EncryptCounters(AesKey encryption)
    {
        encryption.EncryptProcessor(in _s0, NetworkOpening.Counter(1), ref _s1);
        encryption.EncryptProcessor(in _s0, NetworkOpening.Counter(2), ref _s2);
    }

    public void EncryptFirstMacBlocks(AesKey encryption) => encryption.EncryptProcessor(in _blocks, Vector128<byte>.Zero, ref _blocks);

    public void Decrypt()
    {
        for (int i = 0; i < Count; i++)
        {
            ref NetworkOpening opening = ref _openings[i];
            opening.Decrypt(_s1[i], _s2[i]);
            _blocks[i] ^= opening.First;
        }
    }

    public void EncryptMacBlocks(AesKey encryption)
    {
        encryption.EncryptProcessor(in _blocks, Vector128<byte>.Zero, ref _blocks);
        encryption.EncryptProcessor(in _s0, Vector128<byte>.Zero, ref _s0);
    }

    public void EncryptSecondMacBlocks(AesKey encryption)
    {
        for (int i = 0; i < Count; i++)
            _secondBlocks[i] = _blocks[i] ^ _openings[i].Second;
        encryption.EncryptProcessor(in _secondBlocks, Vector128<byte>.Zero, ref _secondBlocks);
    }

    public void Judge()
    {
        for (int i = 0; i < Count; i++)
        {
            ref NetworkOpening opening = ref _openings[i];
            _opened[i] = opening.Fits(opening.LastMacBlock(_blocks[i], _secondBlocks[i]) ^ _s0[i]) & opening.IsLongEnough(NetworkSecurity.Nonce.Network);
        }
    }
}
