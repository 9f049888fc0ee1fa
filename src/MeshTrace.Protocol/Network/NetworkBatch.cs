using System.Diagnostics.CodeAnalysis;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <summary>
/// Up to sixteen Network PDUs that are tried with the same credentials together; each comes out as
/// <see cref="NetworkSecurity.TryDecrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte}, out int)"/> opens it. The AES blocks of one PDU wait for each other,
/// those of several do not: interleaved, they keep the processor's rounds busy all the time.
/// </summary>
/// <remarks>Begin, add PDUs until it is full or there are no more, open them, take each; begin again. Nothing here allocates.</remarks>
public ref struct NetworkBatch
{
    /// <summary>So many PDUs at most.</summary>
    public const int Capacity = Groups * NetworkLanes.Count;

    /// <summary>Fewer are opened one by one: the empty places of the eight cost as much as full ones.</summary>
    private const int FewestTogether = 3;

    private const int Groups = 2;

    /// <summary>Octets of a line of the processor's caches.</summary>
    private const int LineOctets = 64;

    private NetworkCredentials _credentials;
#pragma warning disable CS0649 // it is written through Lanes
    private Room _room;
#pragma warning restore CS0649

    /// <summary>Where in the room the lanes begin: at a line of the caches, unless this was copied since.</summary>
    private nint _begin;

    /// <summary>PDUs added.</summary>
    public int Count { readonly get; private set; }

    /// <summary>Forgets the PDUs it had; the next ones are tried with these credentials.</summary>
    public void Begin(NetworkCredentials credentials)
    {
        _credentials = credentials;
        _begin = -Unsafe.ByteOffset(ref Unsafe.NullRef<Room>(), ref _room) & (LineOctets - 1);
        Clear();
    }

    /// <summary>
    /// The lanes. A stack begins at any multiple of 16 octets or between two of them, and then one of four blocks lies over the end of a line: storing it and loading it
    /// again takes several times as long.
    /// </summary>
    [UnscopedRef]
    private readonly ref LanesOfGroups Lanes
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get => ref Unsafe.As<byte, LanesOfGroups>(ref Unsafe.AddByteOffset(ref Unsafe.As<Room, byte>(ref Unsafe.AsRef(in _room)), _begin));
    }

    /// <summary>Forgets the PDUs it had; the next ones are tried with the same credentials.</summary>
    public void Clear() => Count = 0;

    /// <summary>Adds a PDU: its octets are copied. One that has not the length of a Network PDU just does not open.</summary>
    /// <exception cref="IndexOutOfRangeException">There are <see cref="Capacity"/> already.</exception>
    public void Add(ReadOnlySpan<byte> pdu, uint ivIndex)
    {
        int at = Count;
        Lanes[(int)((uint)at / NetworkLanes.Count)].Begin((int)((uint)at % NetworkLanes.Count), pdu, ivIndex);
        Count = at + 1;
    }

    /// <summary>Opens what was added.</summary>
    public void Open()
    {
        AesKey privacy = _credentials.PrivacyKey, encryption = _credentials.EncryptionKey;
        ref NetworkLanes one = ref Lanes[0], two = ref Lanes[1];
        if (Count < FewestTogether || !privacy.IsProcessorPath || !encryption.IsProcessorPath)
        {
            for (int i = 0; i < Count; i++)
                Lanes[i / NetworkLanes.Count].OpenAlone(i % NetworkLanes.Count, privacy, encryption);
        }
        else if (Count <= NetworkLanes.Count)
        {
            one.EncryptPrivacyPlaintexts(privacy);
            one.Deobfuscate();
            one.EncryptFirstCounters(encryption);
            one.EncryptSecondCounters(encryption);
            one.EncryptFirstMacBlocks(encryption);
            one.Decrypt();
            one.EncryptSecondMacBlocks(encryption);
            one.EncryptCounters(encryption);
            one.EncryptThirdMacBlocks(encryption);
        }
        else
        {
            // Two eights in turns: while the rounds of the one are under way, the processor has the octets of the other to move.
            one.EncryptPrivacyPlaintexts(privacy);
            two.EncryptPrivacyPlaintexts(privacy);
            one.Deobfuscate();
            one.EncryptFirstCounters(encryption);
            two.Deobfuscate();
            one.EncryptSecondCounters(encryption);
            one.EncryptFirstMacBlocks(encryption);
            two.EncryptFirstCounters(encryption);
            one.Decrypt();
            two.EncryptSecondCounters(encryption);
            two.EncryptFirstMacBlocks(encryption);
            one.EncryptSecondMacBlocks(encryption);
            two.Decrypt();
            one.EncryptThirdMacBlocks(encryption);
            one.EncryptCounters(encryption);
            two.EncryptSecondMacBlocks(encryption);
            two.EncryptCounters(encryption);
            two.EncryptThirdMacBlocks(encryption);
        }
    }

    /// <summary>Writes the clear PDU, in the order of adding.</summary>
    /// <param name="at">From 0, below <see cref="Count"/>.</param>
    /// <param name="clear">At least as many octets as the PDU has. Not written to where the answer is false; what stands behind the clear PDU then is no matter.</param>
    /// <param name="length">Octets of the clear PDU, which <see cref="ClearNetworkPdu"/> reads; 0 where the answer is false.</param>
    /// <returns>False where the NetMIC does not fit, or the length is none of a Network PDU.</returns>
    /// <exception cref="ArgumentException">The destination is too short.</exception>
    public readonly bool TryTake(int at, Span<byte> clear, out int length)
    {
        length = 0;
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual((uint)at, (uint)Count);
        return Lanes[(int)((uint)at / NetworkLanes.Count)].TryTake((int)((uint)at % NetworkLanes.Count), clear, out length);
    }

    [InlineArray(Groups)]
    private struct LanesOfGroups
    {
        private NetworkLanes _first;
    }

    [InlineArray(LineOctets / sizeof(ulong))]
    private struct Line
    {
        private ulong _first;
    }

    /// <summary>The lanes, and as much more as they may have to begin later.</summary>
    [StructLayout(LayoutKind.Sequential)]
    private struct Room
    {
        private LanesOfGroups _lanes;
        private Line _behind;
    }
}
