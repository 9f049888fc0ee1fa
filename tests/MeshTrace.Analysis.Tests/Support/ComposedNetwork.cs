using System.Text;
using System.Text.Json;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Synthesis;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>A simulated network: its capture analysed, and what really happened.</summary>
internal sealed class ComposedNetwork
{
    private readonly NetworkDescription _description;

    private ComposedNetwork(CaptureHistory history, JsonElement truth, NetworkDescription description) =>
        (History, Truth, _description) = (history, truth, description);

    public CaptureHistory History { get; }
    public JsonElement Truth { get; }

    /// <summary>Name of a node as the scenario has it, also where the analysis had no description.</summary>
    public string NameOf(MeshAddress node) => _description.NameOf(node);

    /// <summary>The node as the scenario has it.</summary>
    public DescribedNode NodeOf(MeshAddress node) => _description.NodeAt(node)!;

    /// <param name="scenario">The scenario, JSON.</param>
    /// <param name="withDescription">False: the analysis gets the keys only, as typed by hand.</param>
    public static ComposedNetwork Of(string scenario, bool withDescription = true)
    {
        ComposedFiles files = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(scenario));
        NetworkDescription description = NetworkDescriptionReader.Read(files.Description, "network.json");
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = withDescription ? description : null, Keys = withDescription ? null : KeysOf(description) });
        using (var source = CaptureFile.Open(new MemoryStream(files.Capture.ToArray()), "capture"))
            analysis.Read(source);
        return new ComposedNetwork(analysis.Complete(), JsonDocument.Parse(files.Truth).RootElement, description);
    }

    /// <summary>The analysis gets what <paramref name="keys"/> takes from the truth, and no description.</summary>
    public static ComposedNetwork Of(string scenario, Func<JsonElement, KeyArguments> keys)
    {
        ComposedFiles files = Composer.ComposeInMemory(Encoding.UTF8.GetBytes(scenario));
        JsonElement truth = JsonDocument.Parse(files.Truth).RootElement;
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys(truth) });
        using (var source = CaptureFile.Open(new MemoryStream(files.Capture.ToArray()), "capture"))
            analysis.Read(source);
        return new ComposedNetwork(analysis.Complete(), truth, NetworkDescriptionReader.Read(files.Description, "network.json"));
    }

    private static KeyArguments KeysOf(NetworkDescription description) => new()
    {
        NetKeys = [.. description.NetKeys.Select(key => new TypedKey(key.Index, key.Key!))],
        AppKeys = [.. description.AppKeys.Select(key => new TypedKey(key.Index, key.Key!))],
    };

    /// <summary>Row of the press that the truth tells of, or -1 where it was not heard: same source, TID and values within a second of its time.</summary>
    public int PressOf(JsonElement press)
    {
        long timeNs = NsOf(press.GetProperty("time").GetString()!);
        for (int row = 0; row < History.Presses.Count; row++)
            if (History.Presses[row] is { } heard && heard.Src.ToString() == press.GetProperty("src").GetString() && heard.Tid == press.GetProperty("tid").GetInt32()
                && heard.TimeNs - timeNs is >= -1_000_000_000 and < 3_000_000_000)
                return row;
        return -1;
    }

    /// <summary>Elements that did not act on a press, and why.</summary>
    public static IEnumerable<(MeshAddress Element, string Cause)> LostBy(JsonElement press) => press.GetProperty("lost").EnumerateArray()
        .Select(lost => (Address(lost.GetProperty("element")), lost.GetProperty("cause").GetString()!));

    public static IEnumerable<MeshAddress> ActedOn(JsonElement press) => press.GetProperty("acted").EnumerateArray().Select(acted => Address(acted.GetProperty("element")));

    private static MeshAddress Address(JsonElement text)
    {
        Assert.True(MeshAddress.TryParse(text.GetString(), out MeshAddress address));
        return address;
    }

    /// <summary>Nanoseconds since 1970 of a time in the truth.</summary>
    public static long NsOf(string time)
    {
        DateTime whole = DateTime.Parse(time, System.Globalization.CultureInfo.InvariantCulture, System.Globalization.DateTimeStyles.AdjustToUniversal);
        return (whole - DateTime.UnixEpoch).Ticks * 100;
    }
}
