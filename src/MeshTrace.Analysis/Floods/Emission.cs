using System.Runtime.CompilerServices;

namespace MeshTrace.Analysis.Floods;

/// <summary>Begins of the first advertising events, in µs after the first one.</summary>
[InlineArray(Most)]
internal struct EventTimes
{
    /// <summary>A PDU is transmitted 8 times at most (Mesh Protocol 1.1 §4.2.20); what comes beyond is counted, not timed.</summary>
    public const int Most = 12;
    private int _first;
}

/// <summary>What one advertiser address sent of one flood at one TTL, as one receiver heard it: the transmissions of one node.</summary>
internal struct Emission
{
    public int Advertiser;
    public int Receiver;

    /// <summary>The emission before of the same address in the same flood, at another TTL or receiver; -1 if there is none.</summary>
    public int Previous;
    public byte Ttl;
    public SenderConfidence Confidence;

    /// <summary>Row of the node in <see cref="FloodStreams"/>, if the confidence is more than unknown.</summary>
    public int Node;

    /// <summary>Begin of its first advertising event, told from the channel of what was heard; <see cref="long.MaxValue"/> without time.</summary>
    public long FirstNs;
    public int Events;
    public EventTimes Begins;
}
