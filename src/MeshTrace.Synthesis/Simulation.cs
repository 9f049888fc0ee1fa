using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Nodes.Proxy;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Receivers;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis;

/// <summary>Builds the stations of a scenario, lets its time pass, and keeps what really happened.</summary>
internal sealed class Simulation
{
    private readonly Scenario _meant, _described, _actual;
    private readonly Randomness _random;
    private readonly Timeline _time = new();
    private readonly Medium _medium;
    private readonly MeshWorld _world;
    private readonly List<Action> _starts = [];

    internal Simulation(Scenario meant, Scenario described, Scenario actual, IFrameSink sink)
    {
        (_meant, _described, _actual) = (meant, described, actual);
        _random = new Randomness(actual.Seed);
        _medium = new Medium(_time, _random.Fork("air"), actual.Building.FadingDb);
        Truth = new TruthLog(actual.Truth == TruthDetail.Full);
        _world = new MeshWorld(actual, _time, _medium, Truth);
        AddNodes();
        AddReceivers(sink);
        AddPhones(sink);
        AddNoise();
        if (_medium.Stations.Count > Medium.MostStations)
            throw new ScenarioException(actual.Name, "$", $"more than {Medium.MostStations} stations");
        var links = new PairTable(actual, _medium.Stations, _random.Fork("shadow").Next64());
        _medium.Settle(links.Of);
    }

    internal TruthLog Truth { get; }
    internal List<SimulatedReceiver> Receivers { get; } = [];
    internal Medium Medium => _medium;
    internal IReadOnlyList<MeshNode> Nodes => _world.Nodes;

    internal void Run()
    {
        foreach (MeshNode node in _world.Nodes)
        {
            node.SwitchOn();
            foreach (var (fromUs, untilUs) in node.Plan.PowerCuts)
            {
                _time.At(fromUs, () => node.Station.On = false);
                _time.At(untilUs, () => node.Station.On = true);
            }
        }
        foreach (Action start in _starts)
            start();
        foreach (IncidentPlan incident in _actual.Schedule.OrderBy(incident => incident.AtUs))
            _time.At(incident.AtUs, () => Happen(incident));
        _time.RunUntil(_actual.DurationUs);
    }

    private void Happen(IncidentPlan incident)
    {
        MeshNode node = _world.Named(incident.Node);
        switch (incident)
        {
            case PressPlan press:
                Press(node, press);
                break;
            case ConfigurePlan configure:
                ConfigurationClient.Start(_world, configure);
                break;
            case TransferPlan transfer:
                node.StartTransfer(transfer);
                break;
            case ProvisionPlan provision:
                _world.Named(provision.By).Provision(provision);
                break;
            case KeyRefreshPlan keyRefresh:
                KeyRefreshClient.Start(_world, keyRefresh);
                break;
            case IvUpdatePlan ivUpdate:
                node.BeginIvUpdate(ivUpdate);
                break;
            case SequencePlan sequence:
                node.SetSequence(sequence);
                break;
        }
    }

    private void Press(MeshNode panel, PressPlan plan)
    {
        var truth = new PressTruth
        {
            Index = Truth.Presses.Count + 1, TimeUs = _time.NowUs, Panel = panel, Src = panel.ElementAddress(plan.Element),
            Asks = plan.Asks,
            Acknowledged = plan.Acknowledged,
        };
        Truth.Presses.Add(truth);
        truth.Meant.AddRange(Targets.Of(_meant, plan, null, []));
        var dst = Targets.DestinationOf(_actual, plan);
        truth.Expected.AddRange(Targets.Of(_described, plan, dst, _described.Description.OmitNodes));
        foreach (MeshNode node in _world.Nodes)
        {
            if (truth.Meant.Concat(truth.Expected).Any(node.Owns))
                truth.TargetNodes.Add(node.Station.Index);
        }
        panel.Press(plan, truth);
    }

    private void AddNodes()
    {
        foreach (NodePlan plan in _actual.Nodes)
        {
            var station = new Station(_medium.Stations.Count, plan.Name, plan.Place)
            {
                TxPowerDbm = plan.TxPowerDbm, SensitivityDbm = plan.SensitivityDbm, Scan = plan.Scan, Listening = plan.Phone is null,
            };
            bool relayMeant = _meant.NodeNamed(plan.Name) is { Relay: 1 };
            var node = new MeshNode(_world, plan, relayMeant, station, _random.Fork("node " + plan.Name));
            station.Listener = node;
            _medium.Add(station);
            _world.Add(node);
        }
    }

    private void AddReceivers(IFrameSink sink)
    {
        if (_actual.Receivers.Count > SimulatedReceiver.MostReceivers)
            throw new ScenarioException(_actual.Name, "$.receivers", $"more than {SimulatedReceiver.MostReceivers} receivers");
        foreach (ReceiverPlan plan in _actual.Receivers)
        {
            var receiver = new SimulatedReceiver(Receivers.Count, plan, _actual.StartNs, sink, _random.Fork("receiver " + plan.Name));
            _medium.Add(new Station(_medium.Stations.Count, plan.Name, plan.Place) { SensitivityDbm = plan.SensitivityDbm, Scan = plan.Scan,
                Listener = receiver });
            Receivers.Add(receiver);
        }
    }

    /// <summary>The log of each phone is an interface of the capture, after those of the receivers.</summary>
    private void AddPhones(IFrameSink sink)
    {
        int number = Receivers.Count;
        foreach (MeshNode node in _world.Nodes.Where(node => node.Plan.Phone is not null))
            node.KeepLog(new HostLog(number++, _actual.StartNs, sink));
    }

    private void AddNoise()
    {
        int number = 0;
        foreach (NoisePlan plan in _actual.Noise)
        {
            for (int i = 0; i < plan.Count; i++, number++)
                AddNoise(plan, number);
        }
        foreach (InterferencePlan plan in _actual.Interference)
        {
            var station = new Station(_medium.Stations.Count, plan.Name, plan.Place) { TxPowerDbm = plan.PowerDbm };
            _medium.Add(station);
            var interferer =
                new Interferer(_time, _medium, station, _random.Fork("interference", number++), plan.Duty, plan.Channels, plan.UntilUs);
            _starts.Add(() => _time.At(plan.FromUs, interferer.Go));
        }
    }

    private void AddNoise(NoisePlan plan, int number)
    {
        Randomness random = _random.Fork("noise", number);
        var place = new Place(plan.Place.X + (random.Share() * 6) - 3, plan.Place.Y + (random.Share() * 6) - 3);
        var station = new Station(_medium.Stations.Count, $"unrelated {number + 1}", place);
        _medium.Add(station);
        long last = Math.Min(plan.UntilUs, _actual.DurationUs), from = plan.FromUs, until = last;
        if (plan.StayUs > 0)
        {
            from += random.Below(Math.Max(1, last - plan.FromUs - plan.StayUs));
            until = Math.Min(last, from + plan.StayUs);
        }
        var habit =
            plan.Kind switch { NoiseKind.Phone => AddressHabit.Rotating, NoiseKind.Tag => AddressHabit.Public, _ => AddressHabit.Static };
        var bearer = new Advertiser(_time, _medium, station, random.Fork("bearer"), habit);
        UnrelatedAdvertiser advertiser = plan.Kind == NoiseKind.Network
            ? new NeighbourAdvertiser(_time, bearer, random, plan.IntervalUs, until)
            : new GadgetAdvertiser(_time, bearer, random, plan.IntervalUs, until, plan.Kind == NoiseKind.Tag);
        _starts.Add(() => _time.At(from + random.Below(plan.IntervalUs), advertiser.Go));
    }
}
