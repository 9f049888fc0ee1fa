namespace MeshTrace.Analysis.Completeness;

/// <summary>On which of the three advertising channels a receiver listened, worked out from its frames.</summary>
public enum ChannelPlan : byte
{
    /// <summary>The file does not tell channels (HCI logs), or there are too few frames.</summary>
    Unknown,

    /// <summary>One channel all the time: disturbance of that channel looks like loss in the network, and that of the others is not seen.</summary>
    OneChannel,

    /// <summary>One channel at a time: of each advertising event one packet at most is heard, and what it was sent on besides is not.</summary>
    Hopping,

    /// <summary>Several packets of the same advertising event: three radios, or one that follows the event.</summary>
    AllAtOnce,
}

/// <summary>What one receiver was able to hear.</summary>
/// <param name="Receiver">Index of the receiver.</param>
/// <param name="Plan">Its channels.</param>
/// <param name="Channel">The one channel, for <see cref="ChannelPlan.OneChannel"/>.</param>
/// <param name="Frames">All its frames.</param>
/// <param name="On37">Frames on channel 37.</param>
/// <param name="On38">Frames on channel 38.</param>
/// <param name="On39">Frames on channel 39.</param>
/// <param name="BadCrc">Frames with a wrong CRC; 0 also where the recorder leaves them out.</param>
public readonly record struct ReceiverView(int Receiver, ChannelPlan Plan, int? Channel, long Frames, long On37, long On38, long On39, long BadCrc)
{
    /// <summary>Share of the packets of this network's advertising events that it can hear at best; null where the plan is not known.</summary>
    public double? MostPacketShare => Plan switch
    {
        ChannelPlan.AllAtOnce => 1,
        ChannelPlan.Unknown => null,
        _ => 1 / 3.0,
    };

    /// <summary>True if loss on one channel alone can be told from loss on all: where one packet an event is heard at most, it cannot.</summary>
    public bool TellsChannelsApart => Plan == ChannelPlan.AllAtOnce;

    /// <summary>True if advertising events, and so repeats, can be counted: in a log of a host, its controller may have dropped repeated packets.</summary>
    public bool CountsRepeats => Plan != ChannelPlan.Unknown;
}
