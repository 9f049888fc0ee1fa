using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis;

/// <summary>
/// From frames to the whole account, in one direction: frames and their distinct contents as they come, keys and order in batches, what needs the
/// whole at the end. What could not be opened is tried again when a key is learnt.
/// </summary>
public sealed class CaptureAnalysis
{
    /// <summary>Frames between two looks at keys and floods.</summary>
    private const int BatchFrames = 16_384;

    /// <summary>Messages may hand out keys that open messages with further keys; no network needs more rounds than this.</summary>
    private const int MostRounds = 16;

    private readonly AnalysisSettings _settings;
    private readonly KeyRing _keys = new();
    private readonly FrameIntake _intake;
    private readonly TextLogIntake _textLogs;
    private readonly TransferTable _transfers;
    private readonly TransportStage _transport;
    private readonly BeaconTable _beacons;
    private readonly ProvisioningTable _provisioning;
    private readonly BatchStage _batches;
    private readonly NodeDirectory _nodes;
    private readonly KeyLearner _learner;
    private readonly CaptureSpan _span;
    private readonly List<ReceiverDescription> _receivers = [];
    private readonly List<CaptureDamage> _damages = [];
    private int _networkGenerationUsed, _messageGenerationUsed;

    public CaptureAnalysis(AnalysisSettings settings)
    {
        _settings = settings;
        History = new CaptureHistory { Keys = _keys };
        _nodes = new NodeDirectory(settings.Description);
        _span = new CaptureSpan(History.Frames);
        GivenKeys.AddTo(_keys, settings);
        var connections = new ConnectionIntake(History, _keys);
        _intake = new FrameIntake(History, connections, _textLogs = new TextLogIntake(History, _keys));
        _transfers = new TransferTable(History.Floods);
        _beacons = new BeaconTable(_keys, History.Contents);
        _learner = new KeyLearner(_keys);
        _transport = new TransportStage(History, _transfers, new MessageOpener(_keys, _nodes.NodeOf)) { OnMessage = Listen };
        IReadOnlyList<uint> hints = [.. settings.Keys?.IvIndexes ?? [], .. settings.Description?.IvIndexHint is { } hint ? [hint] : Array.Empty<uint>()];
        var provisioningKeys = new ProvisioningKeys(_keys, _nodes, settings.Keys?.ProvisioningKeys ?? [], settings.Keys?.ProvisioningOobValues ?? []);
        _provisioning = new ProvisioningTable(History.Contents, provisioningKeys.Take, connections.DeviceOf);
        _batches = new BatchStage(History, _keys, _beacons, _provisioning, new ProxyFilterStage(History, _keys), new FloodTable(History.Floods, History.Contents), _transport, hints);
        _networkGenerationUsed = _keys.NetworkGeneration;
        _messageGenerationUsed = _keys.MessageGeneration;
    }

    public CaptureHistory History { get; }

    /// <summary>Told the name of each stage when it begins: for whoever measures how long each takes.</summary>
    internal Action<string>? StageBegins { get; init; }

    /// <summary>Reads a source to its end or damage: with more than one core ahead of what is done with its frames.</summary>
    /// <param name="source">Its receivers are numbered over all sources already.</param>
    /// <param name="progress">Told position and length in octets now and then.</param>
    /// <param name="stop">Stops reading; what was read is kept.</param>
    public void Read(IFrameSource source, Action<long, long?>? progress = null, CancellationToken stop = default)
    {
        int sinceLook = 0, known = _receivers.Count;
        StageBegins?.Invoke("reading and intake");
        // Reading stops before the receivers and the damage are looked at for the last time.
        using (var reading = new BlockReading(source, History.Memory, ahead: _settings.Cores > 1))
        {
            while (reading.Next() is { } block)
            {
                _intake.Take(block.Frames);
                sinceLook += block.Frames.Count;
                if (sinceLook < FrameBlock.MostFrames)
                    continue;
                sinceLook = 0;
                NoteReceivers(block.Receivers, known);
                progress?.Invoke(block.Position, source.Length);
                if (stop.IsCancellationRequested)
                    break;
                if (_batches.Waiting >= BatchFrames)
                    RunBatch();
            }
        }
        RunBatch();
        NoteReceivers(source.Receivers, known);
        _damages.AddRange(source.AllDamage);
    }

    private void RunBatch()
    {
        _batches.Run(1, StageBegins);
        _span.Take();
        StageBegins?.Invoke("reading and intake");
    }

    /// <summary>The receivers of the source at hand, which may become more, after those of the sources before it.</summary>
    private void NoteReceivers(IReadOnlyList<ReceiverDescription> receivers, int before)
    {
        _receivers.RemoveRange(before, _receivers.Count - before);
        _receivers.AddRange(receivers);
    }

    /// <summary>
    /// Decides everything that needs the whole. May be called again after more has been read, and from the progress of <see cref="Read"/>, then
    /// about what was read until there.
    /// </summary>
    public CaptureHistory Complete()
    {
        if (_batches.Waiting > 0)
            _batches.Run(_settings.Cores);
        _span.Take();
        History.Cores = History.Frames.Count < SideBySide.FramesWorthIt ? 1 : _settings.Cores;
        StageBegins?.Invoke("copies of each flood");
        GoOverAgainWithKeysLearnt();
        _transfers.Conclude();
        History.Trim();
        History.Receivers = _receivers;
        History.Damages = _damages;
        History.Transfers = _transfers.Transfers;
        History.Beacons = _beacons.Beacons;
        History.Provisionings = _provisioning.Links;
        _textLogs.Conclude();
        ReceiverWatch watch = FrameSweep.Run(History, _span.Told);
        History.ReceiverViews = watch.Views();
        History.Crowded = Crowding.Find(watch, History.ReceiverViews);
        StageBegins?.Invoke("configuration");
        History.Directory = _nodes;
        History.Configuration = ConfigurationHeard.Read(History);
        History.NodeModels = new NodeModels(_nodes, History.Configuration, History.Provisionings);
        History.Lifecycle = new Lifecycle(History).Run();
        StageBegins?.Invoke("senders, hops and repeats");
        HeardShares shares = null!;
        PressVerdict verdict = null!;
        var settings = new RadioSettings(History, _nodes);
        var census = new NodeCensus(History, _nodes);
        // Heard shares, presses and repetitions are found in messages and floods; who sent which copy does not come into it.
        SideBySide.Run(History.Cores, () => AttributeCopies(settings, census), () =>
        {
            OtherSideBegins("receivers and heard shares");
            History.Deafness = new Deafness(History, watch).Find();
            shares = new HeardShares(History, _nodes, History.Deafness);
            OtherSideBegins("presses");
            verdict = FindPresses(settings, shares);
        });
        StageBegins?.Invoke("nodes");
        shares.Repeats = History.Repeats;
        History.HeardShares = shares;
        History.ResetEye(verdict.OwesAnAnswer);
        var findings = new FindingSink(History);
        // What the findings judge rests on presses and senders; what is counted of the nodes does not come into it.
        SideBySide.Run(History.Cores, () =>
        {
            History.Nodes = census.ToRecords(History.Senders!, shares);
            History.Copies.ForgetHeard();
        }, () =>
        {
            OtherSideBegins("silent elements and sequence lines");
            findings.Prepare();
        });
        History.Notes = new NotePlacer(History, _settings.Notes).Run();
        History.Findings = FindingRules.ExamineAll(History, findings, StageBegins);
        foreach (Press press in History.Presses)
            press.Findings.TrimExcess();
        StageBegins?.Invoke("end");
        return History;
    }

    /// <summary>Tells the stage of the second of several pieces of work: on two cores they run at the same time, and it counts with the first.</summary>
    private void OtherSideBegins(string stage)
    {
        if (History.Cores == 1)
            StageBegins?.Invoke(stage);
    }

    /// <summary>Who sent each copy, hop by hop, how often, and what was heard of each node.</summary>
    private void AttributeCopies(RadioSettings settings, NodeCensus census)
    {
        var senders = new Senders(History, _nodes, settings);
        var hops = new HopCensus(senders.Streams, _receivers.Count == 0 ? 1 : _receivers.Max(receiver => receiver.Index) + 1);
        var repeats = new RepeatCensus(senders.Streams, settings);
        new CopyAttribution(History, senders, hops, repeats, census).Run();
        History.Senders = senders;
        History.Repeats = repeats.ToRepeats();
        History.Hops = hops.ToStatistics(History.Repeats);
        History.Timelines = new TimelineBuilder(History, new SarRules(History, _nodes)).Run();
        senders.ForgetEvidence();
    }

    /// <summary>Messages sent again, presses, and how far each of them got.</summary>
    private PressVerdict FindPresses(RadioSettings settings, HeardShares shares)
    {
        History.MessageRepeats = new MessageRepeatDetector(History, settings).Run();
        History.Presses = new PressDetector(History, new ExpectedServers(_settings.Description, History.Configuration!)).Run();
        var verdict = new PressVerdict(shares, _nodes, new Publishers(History, _settings.Description), new StatesTold(History));
        foreach (Press press in History.Presses)
        {
            verdict.Decide(press);
            press.Answers.TrimExcess();
            press.Messages.TrimExcess();
        }
        return verdict;
    }

    private void Listen(int row)
    {
        ref MessageRow message = ref History.Messages[row];
        ReadOnlySpan<byte> payload = History.PayloadOf(row);
        _learner.Take(in message, payload);
        if (message.Key != MessageKey.Device)
            return;
        if (CompositionPage0.TryRead(message.Opcode, payload, out CompositionPage0? page))
            _nodes.Hear(message.Src, page.Elements.Count);
    }

    /// <summary>
    /// A NetKey or a friendship opens PDUs heard before, which changes floods and transfers: the frames are gone through again. An AppKey, a device key
    /// or a label opens messages that stand already.
    /// </summary>
    private void GoOverAgainWithKeysLearnt()
    {
        for (int round = 0; round < MostRounds; round++)
        {
            bool network = _networkGenerationUsed != _keys.NetworkGeneration, messages = _messageGenerationUsed != _keys.MessageGeneration;
            _networkGenerationUsed = _keys.NetworkGeneration;
            _messageGenerationUsed = _keys.MessageGeneration;
            if (network)
            {
                _transfers.Clear();
                _transport.Clear();
                _learner.Clear();
                _batches.Restart();
                _batches.Run(_settings.Cores);
            }
            else if (messages)
                _transport.RetryUnopened();
            else
                return;
        }
    }
}
