using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Records;

/// <summary>
/// Writes a capture's records as JSON lines (docs/records.md): the contract line first, then the kinds in the order of
/// <see cref="RecordKind"/>. Memory does not grow with the number of records.
/// </summary>
public sealed class RecordsWriter
{
    /// <summary>Version of the contract: fields may be added within one, none renamed or removed.</summary>
    public const int ContractVersion = 1;

    private const int RowsBetweenLooks = 4096;      // how often progress and cancellation are looked at

    private readonly CaptureHistory _history;
    private readonly RecordsSettings _settings;
    private readonly IReadOnlyList<RevealedKey> _keys;

    public RecordsWriter(CaptureHistory history, RecordsSettings settings)
    {
        _history = history;
        _settings = settings;
        _keys = settings.RevealKeys ? [.. history.Keys.RevealedKeys()] : [];
    }

    /// <summary>Records that will be written, the contract line not counted.</summary>
    public long Total
    {
        get
        {
            long total = 0;
            foreach (RecordKind kind in RecordKinds.All)
                total += _settings.Wants(kind) ? CountOf(kind) : 0;
            return total;
        }
    }

    /// <summary>Writes everything wanted to the stream, which stays open.</summary>
    /// <exception cref="IOException">The stream does not take it.</exception>
    /// <exception cref="OperationCanceledException">Stopped; whole lines have been written until then.</exception>
    public void Write(Stream output, Action<long>? progress = null, CancellationToken stop = default)
    {
        var line = new JsonLine(output);
        WriteContract(line);
        long written = 0;
        foreach (RecordKind kind in RecordKinds.All)
        {
            if (!_settings.Wants(kind))
                continue;
            long before = written;
            WriteKind(line, kind, count => progress?.Invoke(before + count), stop);
            written += CountOf(kind);
        }
        line.Flush();
    }

    /// <summary>Writes the records of one kind without the contract line.</summary>
    internal void WriteKind(RecordKind kind, Stream output, Action<long>? progress, CancellationToken stop)
    {
        var line = new JsonLine(output);
        WriteKind(line, kind, progress, stop);
        line.Flush();
    }

    /// <summary>Writes the contract line alone.</summary>
    internal void WriteContract(Stream output)
    {
        var line = new JsonLine(output);
        WriteContract(line);
        line.Flush();
    }

    private void WriteKind(JsonLine line, RecordKind kind, Action<long>? progress, CancellationToken stop)
    {
        var messages = new MessageRecords(_settings);
        int count = CountOf(kind), cores = Environment.ProcessorCount;
        if (kind == RecordKind.Frame && cores > 1 && count > RowsBetweenLooks && _history.TextLines.Count == 0)
        {
            WriteFramesOn(cores, line, progress, stop);
            return;
        }
        for (int row = 0; row < count; row++)
        {
            WriteRow(line, kind, messages, row);
            if ((row + 1) % RowsBetweenLooks != 0)
                continue;
            progress?.Invoke(row + 1);
            if (!stop.IsCancellationRequested)
                continue;
            line.Flush();
            stop.ThrowIfCancellationRequested();
        }
    }

    /// <summary>Frames are most of all records, short, and none hangs on another: they are made on all cores, and written in order.</summary>
    private void WriteFramesOn(int cores, JsonLine line, Action<long>? progress, CancellationToken stop)
    {
        JsonLine[] runs = [.. Enumerable.Range(0, 2 * cores).Select(_ => JsonLine.Held())];
        int count = _history.Frames.Count;
        for (int from = 0; from < count;)
        {
            int first = from, used = Math.Min(runs.Length, (count - first + RowsBetweenLooks - 1) / RowsBetweenLooks);
            Parallel.For(0, used, new ParallelOptions { MaxDegreeOfParallelism = cores }, run =>
            {
                int begin = first + (run * RowsBetweenLooks), end = Math.Min(count, begin + RowsBetweenLooks);
                for (int row = begin; row < end; row++)
                    FrameRecords.Write(runs[run], _history, row);
            });
            for (int run = 0; run < used; run++)
            {
                line.Append(runs[run]);
                from = Math.Min(count, from + RowsBetweenLooks);
                progress?.Invoke(from);
                if (!stop.IsCancellationRequested)
                    continue;
                line.Flush();
                stop.ThrowIfCancellationRequested();
            }
        }
    }

    /// <summary>Writes one record without the contract line.</summary>
    internal void WriteOne(Stream output, RecordKind kind, int row)
    {
        var line = new JsonLine(output);
        WriteRow(line, kind, new MessageRecords(_settings), row);
        line.Flush();
    }

    private int CountOf(RecordKind kind) => kind switch
    {
        RecordKind.Frame => _history.Frames.Count,
        RecordKind.Flood => _history.Floods.Count,
        RecordKind.Message => _history.Messages.Count,
        RecordKind.Transfer => _history.Transfers.Count,
        RecordKind.Press => _history.Presses.Count,
        RecordKind.Beacon => _history.Beacons.Count,
        RecordKind.Provisioning => _history.Provisionings.Count,
        RecordKind.Connection => _history.Connections.Count,
        RecordKind.Node => _history.Nodes.Count,
        RecordKind.Event => _history.Lifecycle.Count,
        RecordKind.Note => _history.Notes.Notes.Count,
        RecordKind.Finding => _history.Findings.Count,
        RecordKind.Key => _keys.Count,
        _ => 0,
    };

    private void WriteRow(JsonLine line, RecordKind kind, MessageRecords messages, int row)
    {
        switch (kind)
        {
            case RecordKind.Frame: FrameRecords.Write(line, _history, row); break;
            case RecordKind.Flood: FloodRecords.Write(line, _history, row); break;
            case RecordKind.Message: messages.Write(line, _history, row); break;
            case RecordKind.Transfer: TransferRecords.Write(line, _history, row); break;
            case RecordKind.Press: PressRecords.Write(line, _history, row); break;
            case RecordKind.Beacon: BeaconRecords.Write(line, _history, row); break;
            case RecordKind.Provisioning: ProvisioningRecords.Write(line, _history, row); break;
            case RecordKind.Connection: ConnectionRecords.Write(line, _history, row); break;
            case RecordKind.Node: NodeRecords.Write(line, _history, row); break;
            case RecordKind.Event: EventRecords.Write(line, _history, row); break;
            case RecordKind.Note: NoteRecords.Write(line, _history, row); break;
            case RecordKind.Finding: FindingRecords.Write(line, _history, row); break;
            case RecordKind.Key: KeyRecords.Write(line, _keys[row], row); break;
        }
    }

    private void WriteContract(JsonLine line)
    {
        JsonText json = line.Json;
        json.WriteStartObject();
        json.WriteString("record"u8, "contract"u8);
        json.WriteString("name"u8, "meshtrace-records"u8);
        json.WriteNumber("version"u8, ContractVersion);
        line.Word("program"u8, _settings.ProgramVersion);
        line.StartArray("records"u8);
        foreach (RecordKind kind in RecordKinds.All)
        {
            if (_settings.Wants(kind))
                json.WriteStringValue(RecordKinds.NameOf(kind));
        }
        line.EndArray();
        line.Flag("keysRevealed"u8, _settings.Wants(RecordKind.Key));
        line.StartArray("receivers"u8);
        foreach (ReceiverDescription receiver in _history.Receivers)
        {
            json.WriteStartObject();
            line.Number("receiver"u8, receiver.Index + 1);
            line.Word("file"u8, receiver.File);
            line.Word("interface"u8, receiver.Interface);
            line.Number("linkType"u8, receiver.LinkType.ShownNumber);
            line.Number("reportedDropped"u8, receiver.ReportedDropped);
            json.WriteEndObject();
        }
        line.EndArray();
        line.StartArray("damages"u8);
        foreach (CaptureDamage damage in _history.Damages)
        {
            json.WriteStartObject();
            line.Word("file"u8, damage.File);
            line.Number("offset"u8, damage.Offset);
            line.Word("says"u8, damage.Says);
            json.WriteEndObject();
        }
        line.EndArray();
        line.End();
    }
}
