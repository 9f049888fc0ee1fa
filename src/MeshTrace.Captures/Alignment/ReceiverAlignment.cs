using System.Globalization;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Alignment;

/// <summary>
/// The clocks of all receivers of one run. The files are read through once, and a sample of what each receiver heard is compared. Receivers that fit join those
/// that the others are compared with, so that one which heard nothing of the first receiver can still be aligned by way of another.
/// </summary>
internal sealed class ReceiverAlignment
{
    private const int FramesBetweenLooks = 4_096;

    /// <summary>One file that has shown no second receiver until here has none.</summary>
    private const int FramesToMeetReceivers = 16_384;

    /// <summary>Equal octets below which two receivers are said to share nothing.</summary>
    private const int SomethingShared = 8;

    /// <summary>Longer than any hold-back can be of use.</summary>
    private const long LongestDisorderNs = 1L << 60;

    private readonly List<Candidate> _receivers = [];
    private readonly HearingSample _sample = new();
    private readonly List<FileClocks> _files = [];
    private readonly List<string> _unknown = [];

    /// <summary>One receiver alone, and nothing is known of its clock: nothing to do.</summary>
    internal bool IsNeedless { get; private set; }

    /// <summary>The input cannot be read twice.</summary>
    internal bool OneReading { get; private set; }

    internal IReadOnlyList<FileClocks> Files => _files;

    /// <summary>Names given with an offset that fit no receiver.</summary>
    public IReadOnlyList<string> Unknown => _unknown;

    /// <summary>Of inputs that can be read once only: nothing was compared.</summary>
    internal static ReceiverAlignment OfOneReading(IReadOnlyList<ReceiverOffset> given)
    {
        var alignment = new ReceiverAlignment { OneReading = true };
        var clocks = new FileClocks();
        clocks.Set(0, new ReceiverClock(ClockBasis.NotCompared) { Says = "standard input or a pipe cannot be read twice, so the clocks were not compared" }, null);
        alignment._files.Add(clocks);
        alignment._unknown.AddRange(given.Select(offset => offset.Name));
        return alignment;
    }

    /// <param name="files">Opens each, at its beginning.</param>
    /// <param name="given">Offsets that the user knows.</param>
    /// <param name="length">Octets in all, for progress.</param>
    /// <param name="progress">Told position and length now and then.</param>
    /// <param name="stop">Stops the reading: what it saw until then is used.</param>
    internal static ReceiverAlignment Of(IReadOnlyList<Func<IFrameSource>> files, IReadOnlyList<ReceiverOffset> given, long? length, Action<long, long?>? progress, CancellationToken stop)
    {
        var alignment = new ReceiverAlignment();
        long before = 0;
        foreach (Func<IFrameSource> open in files)
            before = alignment.ReadFile(open, before, length, alone: files.Count == 1, progress, stop);
        alignment.IsNeedless = alignment._receivers.Count < 2 && given.Count == 0;
        if (!alignment.IsNeedless)
            alignment.Align(given);
        return alignment;
    }

    private long ReadFile(Func<IFrameSource> open, long before, long? length, bool alone, Action<long, long?>? progress, CancellationToken stop)
    {
        int file = _files.Count, first = _receivers.Count, untilLook = FramesBetweenLooks;
        long frames = 0;
        var clocks = new FileClocks();
        _files.Add(clocks);
        var order = new TimeOrder();
        using IFrameSource source = open();
        while (source.TryReadNext(out CapturedFrame frame))
        {
            Meet(source, first, file);
            Candidate receiver = _receivers[first + frame.Receiver];
            if (frame.TimeNs is >= CapturedFrame.EarliestNs and <= CapturedFrame.LatestNs)
            {
                receiver.FirstNs ??= frame.TimeNs;
                order.Take(frame.TimeNs);
            }
            _sample.Take(in frame, first + frame.Receiver);
            frames++;
            if (alone && frames == FramesToMeetReceivers && source.Receivers.Count == 1)
                break;
            if (--untilLook > 0)
                continue;
            untilLook = FramesBetweenLooks;
            progress?.Invoke(before + source.Position, length);
            if (stop.IsCancellationRequested)
                break;
        }
        Meet(source, first, file);
        clocks.DisorderNs = order.IsKept ? 1 : 0;
        return before + source.Position;
    }

    private void Meet(IFrameSource source, int first, int file)
    {
        for (int local = _receivers.Count - first; local < source.Receivers.Count; local++)
            _receivers.Add(new Candidate(source.Receivers[local], file, local));
    }

    private void Align(IReadOnlyList<ReceiverOffset> offsets)
    {
        List<Hearing>[] heard = _sample.ByReceiver(_receivers.Count);
        for (int at = 0; at < _receivers.Count; at++)
            _receivers[at].Heard = heard[at];
        var pool = new List<Hearing>();
        List<Candidate> given = Take(offsets);
        Candidate? reference = _receivers.Find(receiver => receiver.FirstNs is not null);
        if (reference is not null)
            Join(pool, reference, reference.Clock ?? new ReceiverClock(ClockBasis.Reference), reference.Line);
        while (FitAll(pool))
        {
        }
        // A given offset knows no drift: only who heard nothing of the others is compared with such a receiver.
        foreach (Candidate receiver in given.Where(receiver => receiver != reference))
            Join(pool, receiver, receiver.Clock!, receiver.Line);
        while (FitAll(pool) || TakeOneAlone(pool))
        {
        }
        foreach (Candidate receiver in _receivers)
            receiver.Clock ??= receiver.FirstNs is null || receiver.Result.Says is not { } says
                ? new ReceiverClock(ClockBasis.NothingShared) { Says = "it heard nothing that could be compared" }
                : new ReceiverClock(ClockBasis.Refused) { Says = says };
        foreach (Candidate receiver in _receivers)
            _files[receiver.File].Set(receiver.Local, receiver.Clock!, receiver.Line);
        for (int file = 0; file < _files.Count; file++)
            if (_files[file].DisorderNs != 0)
                _files[file].DisorderNs = Difference([.. _receivers.Where(receiver => receiver.File == file && receiver.FirstNs is not null)]);
    }

    private static long Difference(List<Candidate> receivers)
    {
        if (receivers.Count < 2)
            return 0;
        List<long> ahead = [.. receivers.Select(receiver => receiver.Line?.AheadAt(receiver.FirstNs!.Value) ?? 0)];
        long apart = ahead.Max() - ahead.Min();
        return apart == 0 && receivers.TrueForAll(receiver => receiver.Line is null) ? 0 : Math.Min(apart, LongestDisorderNs) + 50_000_000;      // and what drift adds
    }

    private List<Candidate> Take(IReadOnlyList<ReceiverOffset> offsets)
    {
        var given = new List<Candidate>();
        foreach (ReceiverOffset offset in offsets)
        {
            List<Candidate> meant = [.. _receivers.Where((receiver, at) => receiver.Clock is null && receiver.IsNamed(offset.Name, at))];
            if (meant.Count == 0)
                _unknown.Add(offset.Name);
            foreach (Candidate receiver in meant)
                (receiver.Clock, receiver.Line) = (new ReceiverClock(ClockBasis.Given) { OffsetNs = offset.AheadNs }, new ClockLine(0, offset.AheadNs, 0));
            given.AddRange(meant);
        }
        return given;
    }

    private bool FitAll(List<Hearing> pool)
    {
        bool any = false;
        foreach (Candidate receiver in _receivers)
        {
            if (receiver.Clock is not null || receiver.Heard.Count == 0)
                continue;
            receiver.Result = ClockFit.Of(pool, receiver.Heard);
            if (receiver.Result.Line is not { } line)
                continue;
            any = true;
            Join(pool, receiver, new ReceiverClock(ClockBasis.Aligned)
            {
                OffsetNs = line.AheadAt(receiver.FirstNs!.Value), DriftPpm = line.Slope * 1e6, Pairs = receiver.Result.Pairs,
                MedianResidualNs = receiver.Result.MedianNs, LargeResidualNs = receiver.Result.LargeNs,
            }, line);
        }
        return any;
    }

    /// <summary>One that has nothing in common with those so far, but perhaps with one that is left.</summary>
    private bool TakeOneAlone(List<Hearing> pool)
    {
        Candidate? alone = _receivers.Find(receiver => receiver is { Clock: null, FirstNs: not null, Result.Shared: < SomethingShared });
        if (alone is not null)
            Join(pool, alone, new ReceiverClock(ClockBasis.NothingShared) { Says = "it heard nothing, or too little, that another receiver heard too" }, null);
        return alone is not null;
    }

    private static void Join(List<Hearing> pool, Candidate receiver, ReceiverClock clock, ClockLine? line)
    {
        (receiver.Clock, receiver.Line) = (clock, line);
        pool.AddRange(line is { } known ? receiver.Heard.Select(hearing => hearing with { TimeNs = known.ToReference(hearing.TimeNs) }) : receiver.Heard);
        pool.Sort();
    }

    private sealed class Candidate(ReceiverDescription description, int file, int local)
    {
        public int File { get; } = file;
        public int Local { get; } = local;
        public long? FirstNs { get; set; }
        public List<Hearing> Heard { get; set; } = [];
        public ClockFitResult Result { get; set; }
        public ReceiverClock? Clock { get; set; }
        public ClockLine? Line { get; set; }

        public bool IsNamed(string name, int at) => name == description.Interface || name == description.File || name == Path.GetFileName(description.File)
            || name == (at + 1).ToString(CultureInfo.InvariantCulture);
    }

    /// <summary>Whether a file's frames stand in the order of their times, whatever clock these are in.</summary>
    private sealed class TimeOrder
    {
        private long _beforeNs = long.MinValue;

        public bool IsKept { get; private set; } = true;

        public void Take(long timeNs)
        {
            IsKept &= timeNs >= _beforeNs;
            _beforeNs = timeNs;
        }
    }
}
