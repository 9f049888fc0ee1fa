using System.Diagnostics.CodeAnalysis;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>A growing file, a pipe or standard input, of any format that is read; a file that is replaced is gone on with from its header.</summary>
/// <param name="path">As the user gave it; "-" is standard input.</param>
/// <param name="udp">How frames are carried in UDP, or null.</param>
public sealed class LiveFile(string path, UdpEncapsulation? udp = null) : LiveInput(path)
{
    private readonly List<UdpSource> _udpSources = [];
    private Thread? _thread;
    private long _before;
    private IFrameSource? _source;
    private bool _isText;

    /// <summary>One for each file that stood at the path.</summary>
    public override IReadOnlyList<UdpSource> UdpSources => _udpSources;

    public override long Position => _before + (_source?.Position ?? 0);

    protected override void Begin(CancellationToken stop)
    {
        // A pipe that nobody writes to lets nobody open it, and nothing ends a read in it: such a thread must not keep the process alive.
        _thread = new Thread(() => Run(stop)) { IsBackground = true, Name = "receiving" };
        _thread.Start();
    }

    public override void Join(TimeSpan longest) => _thread?.Join(longest);

    private string Shown => Name == CaptureFile.StandardInput ? "standard input" : $"'{Name}'";

    private void Run(CancellationToken stop)
    {
        CaptureDamage? damage = null;
        string? refused = null;
        try
        {
            while (ReadOne(stop, out damage) == InputEnd.Replaced && !stop.IsCancellationRequested)
                Notice($"{Shown} was replaced by another file, or began anew: going on with it from its beginning");
        }
        catch (CaptureFormatException problem)
        {
            refused = stop.IsCancellationRequested ? null : problem.Message;
        }
        TellEnd(damage, refused);
    }

    [SuppressMessage("Reliability", "CA2000", Justification = "The source owns the stream, and is disposed here.")]
    private InputEnd ReadOne(CancellationToken stop, out CaptureDamage? damage)
    {
        damage = null;
        Stream stream = CaptureFile.OpenStream(Name);
        GrowingInput? input = null;
        var early = new List<ReadOnlyMemory<byte>>();
        input = new GrowingInput(stream, Name != CaptureFile.StandardInput && stream.CanSeek ? Name : null, stop)
        {
            Tap = early.Add,
            OnMissing = () => Notice($"{Shown} was moved away: waiting for a file to come in its place"),
        };
        CaptureFileSource opened;
        try
        {
            opened = CaptureFile.OpenGrowing(input, Name);
        }
        catch (CaptureFormatException) when (input.End == InputEnd.Replaced)
        {
            return InputEnd.Replaced;
        }
        _isText = opened.Receivers is [{ LinkType: var linkType }] && linkType == LinkType.TextLog;
        input.Tap = _isText ? PutText : null;
        if (_isText)
            early.ForEach(PutText);
        early.Clear();
        IFrameSource source = opened;
        if (udp is not null)
        {
            var carried = new UdpSource(opened, udp);
            _udpSources.Add(carried);
            source = carried;
        }
        using (_source = source)
        {
            Pump(source, input);
            damage = source.Damage;
            _before += source.Position;
            _source = null;
        }
        if (input.End == InputEnd.Stopped)
            damage = null;      // what was being written is no damage
        if (input.End == InputEnd.WriterGone)
            Notice($"whoever wrote to {Shown} has ended{(damage is null ? "" : ", in the middle of a record")}: what came until then is analysed");
        return damage is not null && input.End == InputEnd.None ? InputEnd.None : input.End;
    }

    private void Pump(IFrameSource source, GrowingInput input)
    {
        var numbers = new List<int>();      // of this file's receivers in the input
        while (source.TryReadNext(out CapturedFrame frame))
        {
            if (input.End == InputEnd.Stopped && source.Damage is not null)
                break;      // the beginning of a frame that is not all there yet
            Meet(source, numbers);
            if (!Queue.Put(Lane, in frame, numbers[frame.Receiver], waits: true))
                break;
        }
        Meet(source, numbers);
    }

    private void PutText(ReadOnlyMemory<byte> text) => Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.Text, Text = text });
}
