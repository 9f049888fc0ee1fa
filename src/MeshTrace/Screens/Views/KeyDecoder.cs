using System.Collections.Concurrent;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using Terminal.Gui.Time;
using ITimer = Terminal.Gui.Time.ITimer;
using Timeout = System.Threading.Timeout;

namespace MeshTrace.Screens.Views;

/// <summary>
/// Makes keys and clicks out of what a terminal sends. ESC is a key of its own and the first octet of most others (ECMA-48 §5.3); only time tells them
/// apart. The library waits 50 ms; here it is a key when nothing has followed for <see cref="EscapeWait"/>.
/// </summary>
internal sealed class KeyDecoder : IDisposable
{
    /// <summary>
    /// The octets of one key come together, also over a remote connection, unless the network parts them just there. Common practice, no source: terminal
    /// multiplexers take 10 ms, editors 25 to 100 ms.
    /// </summary>
    public static readonly TimeSpan EscapeWait = TimeSpan.FromMilliseconds(20);

    /// <summary>More than the 50 ms after which the library lets go what it holds.</summary>
    private static readonly TimeSpan LibraryWait = TimeSpan.FromMilliseconds(51);

    /// <summary>The library gives up a paste without an end after 5 s; so often it is given the chance.</summary>
    private static readonly TimeSpan PasteWait = TimeSpan.FromSeconds(1);

    private readonly AnsiInputProcessor _processor;
    private readonly Clock _clock;
    private DateTime _heldSince;

    /// <param name="time">Tells how long ago something came.</param>
    /// <param name="key">Takes each key.</param>
    /// <param name="mouse">Takes what the mouse does: presses, releases, and clicks made of them.</param>
    /// <param name="pasted">Takes text that was pasted.</param>
    public KeyDecoder(TimeProvider time, Action<Key> key, Action<Mouse> mouse, Action<string> pasted)
    {
        _clock = new Clock(time);
        _processor = new AnsiInputProcessor(Letters, _clock);
        _processor.KeyDown += (_, one) => key(one);
        _processor.SyntheticMouseEvent += (_, one) => mouse(one);
        _processor.Paste += (_, text) => pasted(text);
    }

    /// <summary>What came from the terminal and was not looked at yet; may be filled from another thread.</summary>
    public ConcurrentQueue<char> Letters { get; } = new();

    public void Dispose() => _processor.Dispose();

    /// <summary>Hands on the keys in what has come.</summary>
    /// <returns>After how long to call again if nothing else comes, or infinite.</returns>
    public TimeSpan Decode()
    {
        bool something = !Letters.IsEmpty;
        Process();
        if (something)
            _heldSince = _clock.Now;
        switch (_processor.GetParser().State)
        {
            case AnsiResponseParserState.Normal:
                return Timeout.InfiniteTimeSpan;
            case AnsiResponseParserState.ExpectingEscapeSequence:
                TimeSpan held = _clock.Now - _heldSince;
                if (held < EscapeWait)
                    return EscapeWait - held;
                _clock.Advance(LibraryWait);
                Process();
                return Letters.IsEmpty && _processor.GetParser().State == AnsiResponseParserState.Normal ? Timeout.InfiniteTimeSpan : EscapeWait;
            case AnsiResponseParserState.InResponse:
                return LibraryWait;
            default:
                return PasteWait;
        }
    }

    /// <summary>The library (2.5.0) stumbles over keys that it does not know, as an rxvt's Home, after it has dropped them: the next one counts again.</summary>
    private void Process()
    {
        do
        {
            try
            {
                _processor.ProcessQueue();
            }
            catch (NullReferenceException)
            {
            }
        }
        while (!Letters.IsEmpty);
    }

    /// <summary>The time as the library sees it: a little ahead, once for each ESC that was a key.</summary>
    private sealed class Clock(TimeProvider time) : ITimeProvider
    {
        private readonly long _begin = time.GetTimestamp();
        private TimeSpan _ahead = TimeSpan.FromDays(1);     // the library compares with DateTime.MinValue, too

        public DateTime Now => DateTime.MinValue + _ahead + time.GetElapsedTime(_begin);

        public void Advance(TimeSpan by) => _ahead += by;

        public Task Delay(TimeSpan duration, CancellationToken cancellationToken = default) => Task.Delay(duration, time, cancellationToken);

        public ITimer CreateTimer(TimeSpan interval, Action callback) => new SystemTimeProvider().CreateTimer(interval, callback);
    }
}
