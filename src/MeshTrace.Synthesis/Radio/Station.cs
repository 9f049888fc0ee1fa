namespace MeshTrace.Synthesis.Radio;

/// <summary>Why a packet that was on the air did not arrive at a station.</summary>
internal enum Missed : byte
{
    /// <summary>Too weak there.</summary>
    Weak,

    /// <summary>The station listened on another channel, or not at all.</summary>
    NotListening,

    /// <summary>The station was transmitting itself.</summary>
    Transmitting,

    /// <summary>Another packet or interference was as strong.</summary>
    Collided,
}

/// <summary>What a station does with what it hears.</summary>
internal interface IListener
{
    void Hear(Transmission packet, int rssiDbm);

    void Miss(Transmission packet, int rssiDbm, Missed reason);
}

/// <summary>Anything with an antenna: a node, a receiver, a phone, a source of interference.</summary>
internal sealed class Station(int index, string name, Place place)
{
    internal int Index { get; } = index;
    internal string Name { get; } = name;
    internal Place Place { get; } = place;
    internal int TxPowerDbm { get; init; }
    internal int SensitivityDbm { get; init; } = -93;
    internal ScanPlan Scan { get; init; }

    /// <summary>Null for a station that only transmits.</summary>
    internal IListener? Listener { get; set; }

    /// <summary>Without power it neither hears nor transmits.</summary>
    internal bool On { get; set; } = true;

    /// <summary>False while it has its receiver switched off to save power.</summary>
    internal bool Listening { get; set; } = true;

    private long _busyFromUs = -1, _beforeFromUs = -1, _beforeUntilUs = -1;

    /// <summary>End of its last advertising event.</summary>
    internal long BusyUntilUs { get; private set; } = -1;

    internal void Occupy(long fromUs, long untilUs)
    {
        _beforeFromUs = _busyFromUs;
        _beforeUntilUs = BusyUntilUs;
        _busyFromUs = fromUs;
        BusyUntilUs = untilUs;
    }

    /// <summary>
    /// True if it was transmitting within that time. Two advertising events are remembered: a packet is shorter than the distance of three.
    /// </summary>
    internal bool TransmitsWithin(long fromUs, long untilUs) =>
        (_busyFromUs < untilUs && BusyUntilUs > fromUs) || (_beforeFromUs < untilUs && _beforeUntilUs > fromUs);
}
