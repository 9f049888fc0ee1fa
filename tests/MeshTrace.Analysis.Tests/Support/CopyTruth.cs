using System.Globalization;
using System.Text.Json;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>An advertising event that the simulation sent.</summary>
/// <param name="BeginNs">Since 1970.</param>
/// <param name="By">Name of the node.</param>
/// <param name="Ttl">TTL of the copy.</param>
/// <param name="Heard">It was heard on at least one channel.</param>
internal readonly record struct SentEvent(long BeginNs, string By, int Ttl, bool Heard);

/// <summary>A Network PDU that the simulation sent.</summary>
internal sealed record SentFlood(uint IvIndex, MeshAddress Src, uint Seq, int Ttl, List<SentEvent> Events);

/// <summary>Finds, for each copy heard, what really sent it.</summary>
internal sealed class CopyTruth
{
    private readonly Dictionary<(uint, ushort, uint), SentFlood> _floods = [];

    public CopyTruth(ComposedNetwork network)
    {
        History = network.History;
        foreach (JsonElement flood in network.Truth.GetProperty("floods").EnumerateArray())
        {
            Assert.True(MeshAddress.TryParse(flood.GetProperty("src").GetString(), out MeshAddress src));
            var sent = new SentFlood(flood.GetProperty("ivIndex").GetUInt32(), src, flood.GetProperty("seq").GetUInt32(), flood.GetProperty("ttl").GetInt32(), []);
            _floods[(sent.IvIndex, src.Value, sent.Seq)] = sent;
            foreach (JsonElement one in flood.GetProperty("events").EnumerateArray())
                sent.Events.Add(new SentEvent(NsOf(flood.GetProperty("time").GetString()!) + (one.GetProperty("us").GetInt64() * 1000),
                    one.GetProperty("by").GetString()!, one.GetProperty("ttl").GetInt32(), one.TryGetProperty("heard", out _)));
        }
    }

    public CaptureHistory History { get; }
    public IEnumerable<SentFlood> Floods => _floods.Values;

    public SentFlood Of(int flood)
    {
        ref FloodRow row = ref History.Floods[flood];
        return _floods[(row.IvIndex, row.Src.Value, row.Seq)];
    }

    /// <summary>Name of the node that sent a copy: an event of that TTL that began just before it and has its channel's place in it.</summary>
    public string? SenderOf(SentFlood flood, FloodCopy copy)
    {
        ref FrameRow frame = ref History.Frames[copy.Frame];
        string? found = null;
        long nearest = 400_000;
        foreach (SentEvent one in flood.Events)
        {
            // A mesh packet takes about 0.32 ms and is stamped at its end; the channels of an event follow each other about 0.57 ms apart.
            long apart = Math.Abs(frame.TimeNs - one.BeginNs - 320_000 - ((frame.Channel!.Value - 37) * 570_000L));
            if (one.Ttl == copy.Ttl && one.Heard && apart < nearest)
                (found, nearest) = (one.By, apart);
        }
        return found;
    }

    private static long NsOf(string time) =>
        (DateTime.Parse(time, CultureInfo.InvariantCulture, DateTimeStyles.AdjustToUniversal) - DateTime.UnixEpoch).Ticks * 100;
}
