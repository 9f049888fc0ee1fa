using System.Buffers;
using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Truth;

/// <summary>Writes NAME.truth.json (docs/scenarios.md has its members): one JSON object, each press, flood and beacon on a line of its
/// own.</summary>
internal sealed partial class TruthWriter : IDisposable
{
    private readonly Stream _stream;
    private readonly Scenario _scenario;
    private readonly Simulation _simulation;
    private readonly ArrayBufferWriter<byte> _line = new();
    private readonly Utf8JsonWriter _json;

    private TruthWriter(Stream stream, Scenario scenario, Simulation simulation)
    {
        (_stream, _scenario, _simulation) = (stream, scenario, simulation);
        _json = new Utf8JsonWriter(_line);
    }

    internal static void Write(Stream stream, Scenario scenario, Simulation simulation)
    {
        using var writer = new TruthWriter(stream, scenario, simulation);
        writer.WriteAll();
    }

    public void Dispose() => _json.Dispose();

    private void WriteAll()
    {
        TruthLog truth = _simulation.Truth;
        Raw("{\n\"scenario\":");
        Line(() => _json.WriteStringValue(_scenario.Name));
        Raw(",\n\"start\":");
        Line(() => _json.WriteStringValue(Time(0)));
        Raw(string.Create(CultureInfo.InvariantCulture,
            $",\n\"packets\":{_simulation.Medium.Packets},\n\"floodCount\":{truth.FloodCount},\n\"eventCount\":{truth.EventCount}"));
        Section("faults", _scenario.Faults, fault =>
        {
            _json.WriteString("fault", fault.Name);
            _json.WriteBoolean("described", fault.Described);
            fault.Arguments.WriteMembers(_json, "fault", "described");
        });
        Section("receivers", _simulation.Receivers, receiver =>
        {
            _json.WriteString("name", receiver.Plan.Name);
            _json.WriteNumber("linkType", receiver.Plan.LinkType.Number);
            _json.WriteNumber("frames", receiver.Frames);
            _json.WriteNumber("unrelated", receiver.UnrelatedFrames);
            _json.WriteNumber("damaged", receiver.DamagedFrames);
        });
        Section("presses", truth.Presses, WritePress);
        Section("configurations", truth.Configurations, item =>
        {
            _json.WriteString("time", Time(item.StartUs));
            _json.WriteString("by", item.By.Plan.Name);
            _json.WriteString("node", item.Target.Plan.Name);
            _json.WriteNumber("steps", item.Steps);
            _json.WriteNumber("done", item.StepsDone);
            _json.WriteString("outcome", item.Outcome);
            if (item.Refused.Count > 0)
            {
                _json.WriteStartArray("refused");
                foreach (var (step, code) in item.Refused)
                {
                    _json.WriteStartObject();
                    _json.WriteString("step", step);
                    _json.WriteNumber("status", code);
                    _json.WriteEndObject();
                }
                _json.WriteEndArray();
            }
            WriteTime("end", item.EndUs);
        });
        Section("transfers", truth.Transfers, WriteTransfer);
        WriteLifecycle(truth);
        if (_scenario.Truth == TruthDetail.Full)
        {
            Section("floods", truth.Floods, WriteFlood);
            Section("beacons", truth.Beacons, beacon =>
            {
                _json.WriteString("kind", beacon.Kind);
                _json.WriteString("node", beacon.By.Plan.Name);
                WriteState(beacon.Content);
                WriteEvents(beacon, beacon.Events.Count == 0 ? 0 : beacon.Events[0].TimeUs);
            });
        }
        Raw("\n}\n");
    }

    private void WritePress(PressTruth press)
    {
        _json.WriteNumber("press", press.Index);
        _json.WriteString("time", Time(press.TimeUs));
        _json.WriteString("node", press.Panel.Plan.Name);
        _json.WriteString("src", press.Src.ToString());
        _json.WriteString("dst", press.Dst?.ToString());
        if (press.Tid is { } tid)
            _json.WriteNumber("tid", tid);
        else
            _json.WriteNull("tid");
        if (press.Ttl is { } ttl)
            _json.WriteNumber("ttl", ttl);
        else
            _json.WriteNull("ttl");
        _json.WriteString("opcode", press.Opcode);
        _json.WriteString("asks", press.Asks);
        _json.WriteBoolean("acknowledged", press.Acknowledged);
        _json.WriteString("notSent", press.NotSent);
        Addresses("meant", press.Meant);
        Addresses("expected", press.Expected);
        _json.WriteStartArray("floods");
        foreach (FloodTruth flood in press.Requests)
            _json.WriteNumberValue(flood.Index);
        _json.WriteEndArray();
        _json.WriteStartArray("acted");
        foreach (var (element, timeUs) in press.Acted)
        {
            _json.WriteStartObject();
            _json.WriteString("element", new MeshAddress(element).ToString());
            _json.WriteString("time", Time(timeUs));
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
        _json.WriteStartArray("answered");
        foreach (var (element, answer) in press.Answers)
        {
            _json.WriteStartObject();
            _json.WriteString("element", new MeshAddress(element).ToString());
            _json.WriteString("sent", Time(answer.SentUs));
            WriteTime("arrived", answer.ArrivedUs);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
        _json.WriteStartArray("lost");
        foreach (MeshAddress element in press.Meant.Union(press.Expected).Where(element => !press.Acted.ContainsKey(element.Value)).Order())
        {
            _json.WriteStartObject();
            _json.WriteString("element", element.ToString());
            _json.WriteString("cause", CauseOfLoss.Of(press, element, _simulation.Nodes, _simulation.Medium));
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
        int acted = press.Meant.Count(element => press.Acted.ContainsKey(element.Value));
        _json.WriteString("fate", acted == 0 ? "none" : acted < press.Meant.Count ? "some" : "all");
    }

    private void WriteTransfer(TransferTruth transfer)
    {
        _json.WriteNumber("transfer", transfer.Index);
        _json.WriteString("what", transfer.What);
        _json.WriteString("src", transfer.Src.ToString());
        _json.WriteString("dst", transfer.Dst.ToString());
        _json.WriteNumber("seq", transfer.Seq);
        _json.WriteNumber("segments", transfer.Segments);
        _json.WriteString("time", Time(transfer.StartUs));
        WriteTime("end", transfer.EndUs);
        _json.WriteString("outcome", transfer.Outcome);
        _json.WriteStartArray("sent");
        foreach (FloodTruth flood in transfer.Sent)
        {
            _json.WriteStartObject();
            _json.WriteNumber("segO", flood.SegO!.Value);
            _json.WriteNumber("flood", flood.Index);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
        _json.WriteStartArray("acks");
        foreach (var (flood, from, block) in transfer.Acks)
        {
            _json.WriteStartObject();
            _json.WriteNumber("flood", flood.Index);
            _json.WriteString("from", from.ToString());
            _json.WriteString("block", string.Create(CultureInfo.InvariantCulture, $"0x{block:x8}"));
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
        _json.WriteStartArray("arrived");
        foreach (var (element, timeUs) in transfer.Arrived)
        {
            _json.WriteStartObject();
            _json.WriteString("element", element.ToString());
            _json.WriteString("time", Time(timeUs));
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    private void WriteFlood(FloodTruth flood)
    {
        _json.WriteNumber("flood", flood.Index);
        _json.WriteString("what", flood.What);
        _json.WriteNumber("netKeyIndex", flood.NetKeyIndex);
        _json.WriteNumber("ivIndex", flood.IvIndex);
        _json.WriteString("src", flood.Src.ToString());
        _json.WriteString("dst", flood.Dst.ToString());
        _json.WriteNumber("seq", flood.Seq);
        _json.WriteBoolean("ctl", flood.Ctl);
        _json.WriteNumber("ttl", flood.Ttl);
        if (flood.Press is { } press)
            _json.WriteNumber("press", press.Index);
        if (flood.Transfer is { } transfer)
            _json.WriteNumber("transfer", transfer.Index);
        WriteEvents(flood, flood.Events.Count == 0 ? 0 : flood.Events[0].TimeUs);
        WriteOverGatt(flood);
    }

    /// <summary>Time of the first event, then each one: µs since the first, node, TTL, and which receiver had it on which
    /// channel.</summary>
    private void WriteEvents(EmissionTruth emission, long firstUs)
    {
        if (emission.Events.Count > 0)
            _json.WriteString("time", Time(firstUs));
        _json.WriteStartArray("events");
        foreach (EventTruth sent in emission.Events)
        {
            _json.WriteStartObject();
            _json.WriteNumber("us", sent.TimeUs - firstUs);
            _json.WriteString("by", sent.By.Name);
            if (emission is FloodTruth)
                _json.WriteNumber("ttl", sent.Ttl);
            if (sent.Friendship)
                _json.WriteBoolean("friendship", true);
            WriteHearings("heard", sent.Heard);
            WriteHearings("damaged", sent.Damaged);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    private void WriteHearings(string name, ulong bits)
    {
        if (bits == 0)
            return;
        _json.WriteStartArray(name);
        for (int i = 0; i < 64; i++)
        {
            if ((bits >> i & 1) != 0)
                _json.WriteStringValue(string.Create(CultureInfo.InvariantCulture, $"{i / 3}/{37 + (i % 3)}"));
        }
        _json.WriteEndArray();
    }

    private void Addresses(string name, List<MeshAddress> addresses)
    {
        _json.WriteStartArray(name);
        foreach (MeshAddress address in addresses)
            _json.WriteStringValue(address.ToString());
        _json.WriteEndArray();
    }

    private void WriteTime(string name, long? timeUs) => _json.WriteString(name, timeUs is { } us ? Time(us) : null);

    /// <summary>UTC with nine decimals, in the clock of the scenario (a receiver's clock may differ).</summary>
    private string Time(long us)
    {
        long ns = _scenario.StartNs + (us * 1000);
        var time = DateTimeOffset.UnixEpoch.AddTicks(ns / 100);
        return time.ToString("yyyy-MM-dd'T'HH:mm:ss.fffffff", CultureInfo.InvariantCulture) + (ns % 100).ToString("00",
            CultureInfo.InvariantCulture) + "Z";
    }

    private void Section<T>(string name, IReadOnlyList<T> items, Action<T> write)
    {
        Raw($",\n\"{name}\":[");
        for (int i = 0; i < items.Count; i++)
        {
            Raw(i == 0 ? "\n" : ",\n");
            T item = items[i];
            Line(() =>
            {
                _json.WriteStartObject();
                write(item);
                _json.WriteEndObject();
            });
        }
        Raw("]");
    }

    private void Line(Action write)
    {
        write();
        _json.Flush();
        _stream.Write(_line.WrittenSpan);
        _line.Clear();
        _json.Reset();
    }

    private void Raw(string text) => _stream.Write(System.Text.Encoding.UTF8.GetBytes(text));
}
