namespace MeshTrace.Captures.Alignment;

/// <summary>One advertising PDU that a receiver heard; ordered by octets, then time.</summary>
/// <param name="Key">Hash of its link-layer octets; equal keys are taken for equal octets.</param>
/// <param name="TimeNs">When, in the clock at hand.</param>
/// <param name="Receiver">Place of the receiver in the list at hand.</param>
/// <param name="Channel">Channel index, or <see cref="NoChannel"/>.</param>
internal readonly record struct Hearing(ulong Key, long TimeNs, ushort Receiver, byte Channel) : IComparable<Hearing>
{
    public const byte NoChannel = 255;

    public bool MayShareChannel(Hearing other) => Channel == other.Channel || Channel == NoChannel || other.Channel == NoChannel;

    public int CompareTo(Hearing other) => Key != other.Key ? Key.CompareTo(other.Key) : TimeNs.CompareTo(other.TimeNs);
}
