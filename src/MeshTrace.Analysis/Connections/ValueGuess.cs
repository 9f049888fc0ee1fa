using MeshTrace.Analysis.Keys;

namespace MeshTrace.Analysis.Connections;

/// <summary>A value that is kept until it is clear what its attribute is.</summary>
internal readonly record struct HeldValue(int Frame, long TimeNs, byte[] Octets);

/// <summary>
/// Makes up its mind about an attribute whose type no discovery told: what comes is held back until the values speak for mesh or against it.
/// </summary>
internal sealed class ValueGuess(KeyRing keys)
{
    /// <summary>Values that are held at most, and octets of each: protects memory.</summary>
    public const int MostHeld = 32, LongestHeld = 128;

    /// <summary>So many Network PDUs of one NID, and nothing against it, are no chance where no key has the NID (threshold ours).</summary>
    private const int EnoughWithoutKey = 4;

    /// <summary>Obfuscation and encryption make any two Network PDUs differ nearly everywhere; counters and sensors do not (threshold ours).</summary>
    private const int LeastDifferent = 4, ObfuscatedOctets = 6;

    private readonly List<HeldValue> _held = [];
    private byte _nid;
    private int _ofNid;
    private byte[] _last = [];

    /// <summary>True once it is a mesh characteristic, false once it is none, null until then.</summary>
    public bool? IsMesh { get; private set; }

    /// <summary>What was held back, once; empty afterwards.</summary>
    public IReadOnlyList<HeldValue> Release()
    {
        HeldValue[] held = [.. _held];
        _held.Clear();
        return held;
    }

    /// <summary>Judges a value; call it while <see cref="IsMesh"/> is null.</summary>
    /// <param name="value">Its octets.</param>
    /// <param name="frame">Row of its frame.</param>
    /// <param name="timeNs">Its time.</param>
    /// <param name="neighbourIsMesh">The connection carries mesh traffic on another characteristic: less evidence is enough.</param>
    public void Take(ReadOnlySpan<byte> value, int frame, long timeNs, bool neighbourIsMesh)
    {
        ShapeWeight weight = ValueShape.Judge(value);
        if (weight == ShapeWeight.Against)
        {
            IsMesh = false;
            _held.Clear();
            return;
        }
        if (_held.Count < MostHeld && value.Length <= LongestHeld)
            _held.Add(new HeldValue(frame, timeNs, value.ToArray()));
        if (weight == ShapeWeight.Strong || neighbourIsMesh || (weight == ShapeWeight.Network && IsNetwork(value[1..])))
            IsMesh = true;
    }

    private bool IsNetwork(ReadOnlySpan<byte> pdu)
    {
        byte nid = (byte)(pdu[0] & 0x7F);
        if (NetworkTrial.Opens(keys, pdu) != false)
            return true;
        if (nid != _nid || !Differs(pdu))
            _ofNid = 0;
        _nid = nid;
        _last = pdu.ToArray();
        return ++_ofNid >= EnoughWithoutKey;
    }

    private bool Differs(ReadOnlySpan<byte> pdu)
    {
        if (_last.Length == 0)
            return true;
        int different = 0;
        for (int at = 1; at <= ObfuscatedOctets; at++)
            different += pdu[at] != _last[at] ? 1 : 0;
        return different >= LeastDifferent;
    }
}
