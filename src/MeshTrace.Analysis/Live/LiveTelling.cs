using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Live;

/// <summary>A press to be told.</summary>
/// <param name="Number">From 1 over the whole run; it stays the press's own however often its history is made anew.</param>
/// <param name="Row">Its row in the history at hand.</param>
/// <param name="Before">What was told of it before, or null if this is the first time.</param>
public readonly record struct ToldPress(int Number, int Row, PressOutcome? Before);

/// <summary>
/// Decides what of a running history is to be told now. Histories follow each other, each with more at its end and perhaps less at its beginning; each press is told
/// once, when its outcome is settled, and once more if that turns out otherwise.
/// </summary>
/// <remarks>Not safe for several threads at once.</remarks>
public sealed class LiveTelling
{
    /// <summary>
    /// A press that not everybody has answered is told so long after it, by the clock of the capture: requests of one transaction come within 6 s (Mesh Model 1.1
    /// §3.3), and answers within some 2 s of the last one; the rest is for relays and repetitions (ours).
    /// </summary>
    public const long SettlingNs = 10_000_000_000;

    /// <summary>Presses remembered, so that a press is known again; the oldest are forgotten first.</summary>
    public const int MostRemembered = 100_000;

    private readonly Dictionary<PressKey, Known> _presses = [];
    private readonly Queue<PressKey> _order = new();
    private readonly Dictionary<FindingKey, Seen> _findings = [];
    private readonly int[] _outcomes = new int[4];
    private long? _beginsNs;

    /// <summary>Presses met so far.</summary>
    public int Presses { get; private set; }

    /// <summary>Presses that were told.</summary>
    public int Told => _outcomes.Sum();

    /// <summary>Of those told, how many had this outcome when last told.</summary>
    public int ToldAs(PressOutcome outcome) => _outcomes[(int)outcome];

    /// <summary>Findings told so far.</summary>
    public int Findings { get; private set; }

    /// <summary>Presses that became settled, or that turned out otherwise than told, in the order of the history.</summary>
    /// <param name="history">All that is remembered.</param>
    /// <param name="nowNs">Time by the capture's clock, at least that of the last frame.</param>
    /// <param name="final">Nothing comes any more: everything is settled.</param>
    public List<ToldPress> TakePresses(CaptureHistory history, long nowNs, bool final = false)
    {
        ArgumentNullException.ThrowIfNull(history);
        var told = new List<ToldPress>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            PressKey key = KeyOf(history, press);
            if (!_presses.TryGetValue(key, out Known known))
            {
                if (IsRest(press.TimeNs))
                    continue;
                known = new Known(++Presses, null);
                Remember(key);
            }
            bool settled = final || press.TimeNs == CapturedFrame.NoTime || press.Outcome == PressOutcome.All || nowNs >= press.TimeNs + SettlingNs;
            if (settled && known.Outcome != press.Outcome)
            {
                told.Add(new ToldPress(known.Number, row, known.Outcome));
                if (known.Outcome is { } before)
                    _outcomes[(int)before]--;
                _outcomes[(int)press.Outcome]++;
                known = known with { Outcome = press.Outcome };
            }
            _presses[key] = known;
        }
        return told;
    }

    /// <summary>
    /// Rows of findings that are raised for the first time: about a press once that was told, others once they have stood for <see cref="SettlingNs"/>.
    /// </summary>
    /// <param name="history">As given to <see cref="TakePresses"/> just before.</param>
    /// <param name="nowNs">Likewise.</param>
    /// <param name="final">Likewise.</param>
    public List<int> TakeFindings(CaptureHistory history, long nowNs, bool final = false)
    {
        ArgumentNullException.ThrowIfNull(history);
        var told = new List<int>();
        var met = new Dictionary<FindingKey, int>();
        for (int row = 0; row < history.Findings.Count; row++)
        {
            Finding finding = history.Findings[row];
            Press? press = finding.Press is { } about ? history.Presses[about] : null;
            // A cause that costs several presses is one finding, and the same one when it costs more: its first press may have left the history.
            var key = new FindingKey(finding.Id, finding.Node, finding.Presses.Count > 1 || press is null ? null : KeyOf(history, press));
            int nth = met.GetValueOrDefault(key) + 1;
            met[key] = nth;
            Seen seen = _findings.TryGetValue(key, out Seen before) ? before : new Seen(nowNs, 0);
            bool settled = final || (press is null ? nowNs >= seen.FirstNs + SettlingNs : _presses.TryGetValue(KeyOf(history, press), out Known known) && known.Outcome is not null);
            if (settled && nth > seen.Told && (press is null || final || !IsRest(press.TimeNs)))
            {
                told.Add(row);
                seen = seen with { Told = nth };
                Findings++;
            }
            if (_findings.Count < MostRemembered || _findings.ContainsKey(key))
                _findings[key] = seen;
        }
        return told;
    }

    /// <summary>
    /// From now on the history begins at this time: what is left of a press just after it is no press of its own.
    /// </summary>
    public void BeginAt(long timeNs) => _beginsNs = timeNs;

    /// <summary>The number of a press over the whole run, or null where it was never told.</summary>
    public int? NumberOf(CaptureHistory history, int row)
    {
        ArgumentNullException.ThrowIfNull(history);
        return _presses.TryGetValue(KeyOf(history, history.Presses[row]), out Known known) ? known.Number : null;
    }

    private bool IsRest(long timeNs) => _beginsNs is { } begins && timeNs != CapturedFrame.NoTime && timeNs < begins + SettlingNs;

    private void Remember(PressKey key)
    {
        _order.Enqueue(key);
        if (_order.Count > MostRemembered)
            _presses.Remove(_order.Dequeue());
    }

    private static PressKey KeyOf(CaptureHistory history, Press press)
    {
        ref MessageRow message = ref history.Messages[press.Messages[0]];
        return new PressKey(message.Src, message.Dst, message.IvIndex, message.Seq, press.Opcode.Value, press.Tid);
    }

    private readonly record struct PressKey(MeshAddress Src, MeshAddress Dst, uint IvIndex, uint Seq, uint Opcode, byte Tid);

    private readonly record struct Known(int Number, PressOutcome? Outcome);

    private readonly record struct FindingKey(string Id, MeshAddress? Node, PressKey? Press);

    private readonly record struct Seen(long FirstNs, int Told);
}
