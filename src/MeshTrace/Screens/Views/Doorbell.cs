namespace MeshTrace.Screens.Views;

/// <summary>The drawing thread waits here, without a look in between, until others bring it work or there is something new to look at.</summary>
internal sealed class Doorbell
{
    private readonly object _lock = new();
    private List<Action> _work = [];
    private bool _rung;

    /// <summary>Leaves work for the drawing thread.</summary>
    public void Post(Action work)
    {
        lock (_lock)
        {
            _work.Add(work);
            RingLocked();
        }
    }

    /// <summary>Wakes the drawing thread.</summary>
    public void Ring()
    {
        lock (_lock)
            RingLocked();
    }

    /// <summary>Waits until it was rung since the last time, or so long.</summary>
    public void Wait(TimeSpan longest)
    {
        lock (_lock)
        {
            if (!_rung)
                Monitor.Wait(_lock, longest);
            _rung = false;
        }
    }

    /// <summary>Does the work that was left, in its order; what is left meanwhile is for the next time.</summary>
    /// <returns>Whether there was any.</returns>
    public bool DoWork()
    {
        List<Action> work;
        lock (_lock)
        {
            if (_work.Count == 0)
                return false;
            (work, _work) = (_work, []);
        }
        foreach (Action one in work)
            one();
        return true;
    }

    private void RingLocked()
    {
        _rung = true;
        Monitor.PulseAll(_lock);
    }
}
