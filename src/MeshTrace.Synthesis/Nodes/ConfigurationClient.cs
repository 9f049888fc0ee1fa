using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Sets up one node, step by step: sends a Config message, waits for its Status, repeats it, gives up.</summary>
internal sealed class ConfigurationClient
{
    /// <summary>Wait for a Status before the message is repeated; one open stack waits 4 s (published FAQ of that stack).</summary>
    private const long WaitUs = 4_000_000;
    private const int Tries = 3;
    private const long ThinkUs = 150_000;   // a setup program's own time between two steps

    private readonly MeshWorld _world;
    private readonly MeshNode _client, _target;
    private readonly Queue<ConfigurationStep> _steps;
    private readonly ConfigurationTruth _truth;
    private ConfigurationStep? _open;
    private Alarm? _wait;
    private int _tries;
    private readonly Action? _finished;

    private ConfigurationClient(MeshWorld world, MeshNode client, MeshNode target, IEnumerable<ConfigurationStep> steps,
        ConfigurationTruth truth, Action? finished)
    {
        (_world, _client, _target, _steps, _truth) = (world, client, target, new Queue<ConfigurationStep>(steps), truth);
        _finished = finished;
        client.ConfigurationAnswered += Answered;
    }

    internal static bool KnowsStep(string name) => ConfigurationSteps.Names.Contains(name) || name == ConfigurationSteps.ResetName;

    internal static void Start(MeshWorld world, ConfigurePlan plan)
    {
        MeshNode client = world.Named(plan.By), target = world.Named(plan.Node);
        IEnumerable<string> names = plan.Steps.Count > 0 ? plan.Steps : ConfigurationSteps.Names;
        var steps = names.SelectMany(name => ConfigurationSteps.Of(name, target.Plan, world.Actual.Network)).ToList();
        Start(world, client, target, steps, null);
    }

    /// <summary>Takes these steps with a node, then calls <paramref name="finished"/>, done or not.</summary>
    internal static void Start(MeshWorld world, MeshNode client, MeshNode target, IReadOnlyList<ConfigurationStep> steps, Action? finished) =>
        new ConfigurationClient(world, client, target, steps,
            world.Truth.Configuration(client, target, world.Time.NowUs, steps.Count), finished).Next();

    private void Next()
    {
        _tries = 0;
        if (!_steps.TryDequeue(out _open))
        {
            Finish("complete");
            return;
        }
        Send();
    }

    private void Send()
    {
        if (++_tries > Tries)
        {
            Finish($"no answer to {_open!.Name}");
            return;
        }
        _client.SendConfiguration(_target, _open!);
        _wait = _world.Time.After(WaitUs, Send);
    }

    private void Answered(AccessMessage message)
    {
        if (_open is null || message.Step != _open || message.Key.DeviceKeyOf != _target)
            return;
        _open = null;
        _wait?.Cancelled = true;
        _truth.StepsDone++;
        if (_target.Plan.Habits.Refuses.TryGetValue(message.Step.Kind, out byte code))
            _truth.Refused.Add((message.Step.Kind, code));
        _world.Time.After(ThinkUs, Next);
    }

    private void Finish(string outcome)
    {
        _open = null;
        _client.ConfigurationAnswered -= Answered;
        _truth.Outcome = outcome;
        _truth.EndUs = _world.Time.NowUs;
        _finished?.Invoke();
    }
}
