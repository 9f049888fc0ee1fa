using MeshTrace.Analysis.History;
using MeshTrace.Screens.Octets;

namespace MeshTrace.Screens.Reading;

/// <summary>
/// Work on a thread of its own that brings histories to the screens. What it tells before is words that no longer touch a history, so that the drawing
/// thread never looks at a table that still grows.
/// </summary>
internal abstract class ScreenReading : IDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly Thread _thread;
    private readonly Lock _telling = new();
    private Action<Action<Workspace>> _listener = _ => { };

    protected ScreenReading() => _thread = new Thread(Run) { IsBackground = true, Name = "reading" };

    /// <summary>The last history, once everything was read.</summary>
    public CaptureHistory? Finished { get; protected set; }

    /// <summary>What ended the reading before its time, or null.</summary>
    public Exception? Fault { get; private set; }

    /// <summary>Gives a frame's octets out of memory, or null where frames are read again from their files.</summary>
    public virtual Func<CaptureHistory, int, FrameOctets?>? FromMemory => null;

    /// <summary>Asks to stop.</summary>
    protected CancellationToken Stopping => _stop.Token;

    /// <param name="tell">Passes work on to the thread that draws.</param>
    public void Start(Action<Action<Workspace>> tell)
    {
        _listener = tell;
        _thread.Start();
    }

    public void Wait() => _thread.Join();

    /// <summary>Stops reading, and tells nothing from now on: whoever listened is about to go.</summary>
    public void Stop()
    {
        lock (_telling)
            _listener = _ => { };
        _stop.Cancel();
    }

    /// <summary>Stops reading and waits until its inputs are closed.</summary>
    public void Dispose()
    {
        Stop();
        if (_thread.IsAlive)
            _thread.Join();
        else if (_thread.ThreadState.HasFlag(ThreadState.Unstarted))
            Close();
        _stop.Dispose();
    }

    protected void Tell(Action<Workspace> change)
    {
        lock (_telling)
            _listener(change);
    }

    /// <summary>Reads until the end, or until it is to stop.</summary>
    protected abstract void Read();

    /// <summary>Closes the inputs.</summary>
    protected abstract void Close();

    private void Run()
    {
        try
        {
            Read();
        }
#pragma warning disable CA1031 // it must come out on the thread that began the program, not end the process with the terminal still taken
        catch (Exception fault)
#pragma warning restore CA1031
        {
            Fault = fault;
            Tell(_ => { });
        }
        finally
        {
            Close();
        }
    }
}
