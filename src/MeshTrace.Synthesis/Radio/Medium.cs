namespace MeshTrace.Synthesis.Radio;

/// <summary>
/// The air: who hears a packet and how strongly. A packet arrives if the station listens on its channel all the time, does not transmit,
/// the strength with fading is at least its sensitivity, and no overlapping packet on the channel comes within the capture ratio of it.
/// </summary>
internal sealed class Medium
{
    /// <summary>A packet survives one that is weaker by this much. Common practice, no source.</summary>
    internal const int CaptureRatioDb = 8;

    /// <summary>A pair weaker than its receiver's sensitivity by this much is not examined at all.</summary>
    internal const int OutOfReachDb = 15;

    /// <summary>Bounds the table of pairs (4 million entries).</summary>
    internal const int MostStations = 2048;

    private readonly Timeline _time;
    private readonly ulong _fadingSeed;
    private readonly double _fadingDb;
    private readonly List<Station> _stations = [];
    private readonly List<Transmission>[] _onAir = [[], [], []];
    private short[] _rssi = [];
    private float[] _loss = [];
    private int[][] _reach = [];
    private long _packets;

    internal Medium(Timeline time, Randomness randomness, double fadingDb)
    {
        _time = time;
        _fadingSeed = randomness.Fork("fading").Next64();
        _fadingDb = fadingDb;
    }

    internal IReadOnlyList<Station> Stations => _stations;

    /// <summary>Packets sent so far, interference not counted.</summary>
    internal long Packets => _packets;

    internal void Add(Station station) => _stations.Add(station);

    /// <summary>Fixes the strength (dBm, whole) and extra loss share of every pair; called once all stations stand.</summary>
    internal void Settle(Func<Station, Station, (int RssiDbm, double LossShare)> pair)
    {
        int count = _stations.Count;
        _rssi = new short[count * count];
        _loss = new float[count * count];
        _reach = new int[count][];
        var reach = new List<int>();
        for (int from = 0; from < count; from++)
        {
            reach.Clear();
            for (int to = 0; to < count; to++)
            {
                if (from == to)
                    continue;
                var (rssiDbm, lossShare) = pair(_stations[from], _stations[to]);
                _rssi[(from * count) + to] = (short)rssiDbm;
                _loss[(from * count) + to] = (float)lossShare;
                if (_stations[to].Listener is not null && rssiDbm >= _stations[to].SensitivityDbm - OutOfReachDb)
                    reach.Add(to);
            }
            _reach[from] = [.. reach];
        }
    }

    internal int RssiDbm(Station from, Station to) => _rssi[(from.Index * _stations.Count) + to.Index];

    /// <summary>True if packets of <paramref name="from"/> arrive at <paramref name="to"/> more often than not while nothing else is on
    /// the air.</summary>
    internal bool Reaches(Station from, Station to) =>
        from == to || (RssiDbm(from, to) >= to.SensitivityDbm && _loss[(from.Index * _stations.Count) + to.Index] < 0.5);

    /// <summary>Sets the share of packets that are lost between two stations for no other reason.</summary>
    internal void SetLoss(Station from, Station to, double share) => _loss[(from.Index * _stations.Count) + to.Index] = (float)share;

    internal double LossOf(Station from, Station to) => _loss[(from.Index * _stations.Count) + to.Index];

    /// <summary>Puts one advertising event on the air from now on; returns its end.</summary>
    internal long Send(AdvertisingEvent what, ReadOnlySpan<int> channels, int gapUs)
    {
        int airUs = AirTime.OfAdvertising(what.AdvData.Length);
        long start = _time.NowUs;
        foreach (int channel in channels)
        {
            var packet = new Transmission(this, what, what.From, channel, start, start + airUs);
            _time.At(packet.StartUs, new Start(this, packet));
            _packets++;
            start += airUs + gapUs;
        }
        long end = start - gapUs;
        what.From.Occupy(_time.NowUs, end);
        return end;
    }

    /// <summary>Energy without a packet, from now on.</summary>
    internal void Disturb(Station from, int channel, long lengthUs)
    {
        var energy = new Transmission(this, null!, from, channel, _time.NowUs, _time.NowUs + lengthUs);
        _onAir[channel - 37].Add(energy);
    }

    internal void Arrive(Transmission packet)
    {
        var onAir = _onAir[packet.Channel - 37];
        int count = _stations.Count;
        ulong draw = (ulong)packet.StartUs ^ ((ulong)packet.Channel << 56) ^ ((ulong)packet.From.Index << 40);
        foreach (int index in _reach[packet.From.Index])
        {
            Station to = _stations[index];
            if (!to.On)
                continue;
            ulong hash = Randomness.Hash(_fadingSeed, draw, (ulong)index, 0);
            int rssi = _rssi[(packet.From.Index * count) + index] + Fading(hash);
            if (!to.Listening || !to.Scan.Listens(packet.Channel, packet.StartUs, packet.EndUs))
                to.Listener!.Miss(packet, rssi, Missed.NotListening);
            else if (to.TransmitsWithin(packet.StartUs, packet.EndUs))
                to.Listener!.Miss(packet, rssi, Missed.Transmitting);
            else if (rssi < to.SensitivityDbm || Lost(hash, _loss[(packet.From.Index * count) + index]))
                to.Listener!.Miss(packet, rssi, Missed.Weak);
            else if (Collides(onAir, packet, index, rssi))
                to.Listener!.Miss(packet, rssi, Missed.Collided);
            else
                to.Listener!.Hear(packet, rssi);
        }
        Forget(onAir);
    }

    /// <summary>Sum of four even draws: bell-shaped enough, and the same everywhere. Whole dB.</summary>
    private int Fading(ulong hash)
    {
        int sum = (int)(hash & 0xFF) + (int)((hash >> 8) & 0xFF) + (int)((hash >> 16) & 0xFF) + (int)((hash >> 24) & 0xFF) - 510;
        return (int)Math.Round(sum / 147.8 * _fadingDb, MidpointRounding.AwayFromZero);   // 147.8: standard deviation of the sum
    }

    private static bool Lost(ulong hash, float share) => share > 0 && ((hash >> 32) & 0xFFFFFF) < share * 0x1000000;

    private bool Collides(List<Transmission> onAir, Transmission packet, int to, int rssi)
    {
        foreach (Transmission other in onAir)
        {
            if (other != packet && other.StartUs < packet.EndUs && other.EndUs > packet.StartUs && other.From.Index != to &&
                _rssi[(other.From.Index * _stations.Count) + to] > rssi - CaptureRatioDb)
            {
                return true;
            }
        }
        return false;
    }

    /// <summary>Drops what ended too long ago to overlap a packet that is still on the air.</summary>
    private void Forget(List<Transmission> onAir)
    {
        long before = _time.NowUs - AirTime.OfAdvertising(AirTime.LongestAdvData);
        int kept = 0;
        for (int i = 0; i < onAir.Count; i++)
        {
            if (onAir[i].EndUs >= before)
                onAir[kept++] = onAir[i];
        }
        onAir.RemoveRange(kept, onAir.Count - kept);
    }

    /// <summary>The first microsecond of a packet: from here on it disturbs others.</summary>
    private sealed class Start(Medium medium, Transmission packet) : Occurrence
    {
        internal override void Happen()
        {
            medium._onAir[packet.Channel - 37].Add(packet);
            medium._time.At(packet.EndUs, packet);
        }
    }
}
