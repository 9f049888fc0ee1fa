using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>What the readers of all formats share: receivers, damage, and reading a frame again.</summary>
internal abstract class CaptureFileSource : IFrameSource
{
    private readonly List<ReceiverDescription> _receivers = [];
    private long _scannedTo;            // up to here the structure of the file is known (sections, interfaces, adapters)

    protected CaptureFileSource(OctetWindow input, string file, int firstReceiver)
    {
        Input = input;
        File = file;
        FirstReceiver = firstReceiver;
    }

    public IReadOnlyList<ReceiverDescription> Receivers => _receivers;

    public CaptureDamage? Damage { get; private set; }

    public long Position => Input.Position;

    public long? Length => Input.Length;

    public string File { get; }

    protected OctetWindow Input { get; }

    /// <summary>Number of this file's first receiver.</summary>
    protected int FirstReceiver { get; }

    protected int ReceiverCount => _receivers.Count;

    /// <summary>Number of the next receiver that <see cref="AddReceiver"/> adds.</summary>
    protected int NextReceiver => FirstReceiver + ReceiverCount;

    public abstract bool TryReadNext(out CapturedFrame frame);

    public void Dispose() => Input.Dispose();

    /// <summary>Reads the frame whose record begins at an offset that an earlier reading of the same file gave.</summary>
    /// <returns>False if no frame begins there, or if this input cannot go back so far (see <see cref="CanGoTo"/>).</returns>
    internal bool TryReadAt(long offset, out CapturedFrame frame)
    {
        frame = default;
        Damage = null;
        if (offset >= _scannedTo)
        {
            // Not seen yet: read up to there in order, because what stands before decides how the record is to be read.
            if (!Input.TrySeek(Math.Max(_scannedTo, FirstRecord)))
                return false;
            ReturnToSection(_scannedTo);
            while (TryReadNext(out frame))
            {
                _scannedTo = Input.Position;
                if (frame.FileOffset >= offset)
                    return frame.FileOffset == offset;
            }

            _scannedTo = Math.Max(_scannedTo, Input.Position);
            return false;
        }

        if (offset < FirstRecord || !Input.TrySeek(offset))
            return false;
        ReturnToSection(offset);
        return TryReadHere(out frame) && frame.FileOffset == offset;
    }

    /// <summary>False if the frame at this offset lies behind an input that cannot go back: then the file must be opened anew.</summary>
    internal bool CanGoTo(long offset) => Input.CanSeek || offset >= Input.Position;

    /// <summary>Offset of the first record or block.</summary>
    protected abstract long FirstRecord { get; }

    /// <summary>Takes up again how records at this offset are to be read.</summary>
    protected virtual void ReturnToSection(long offset)
    {
    }

    /// <summary>Reads the record at which the input stands, without passing over anything.</summary>
    protected virtual bool TryReadHere(out CapturedFrame frame) => TryReadNext(out frame);

    protected ReceiverDescription AddReceiver(string? name, LinkType linkType, int timeResolutionExponent = 9, bool tellsDirection = false)
    {
        var receiver = new ReceiverDescription(NextReceiver, File, name, linkType)
        {
            TimeResolutionExponent = timeResolutionExponent, TellsDirection = tellsDirection,
        };
        _receivers.Add(receiver);
        return receiver;
    }

    protected ReceiverDescription ReceiverAt(int number) => _receivers[number - FirstReceiver];

    /// <summary>Stops reading: everything from this offset on is not to be trusted.</summary>
    /// <returns>Always false, so that a reader can return it.</returns>
    protected bool Stop(long offset, string says)
    {
        Damage = new CaptureDamage(File, offset, says);
        Input.Abandon();
        return false;
    }

    /// <summary>Fewer octets than a record header needs are left: the end, or a cut one.</summary>
    protected bool EndOrCut(string what, int needed)
    {
        int left = Input.Available.Length;
        if (left == 0 && Input.Problem == null)
            return false;
        return Damage != null ? false : Cut(Input.Position, what, needed, left);
    }

    /// <summary>A record is not all there.</summary>
    protected bool Cut(long offset, string what, long needed, long left) => Stop(
        offset,
        FormattableString.Invariant($"{what} of {needed} octets begins here, but only {left} {(left == 1 ? "octet is" : "octets are")} left: ")
        + (Input.Problem ?? "the file was cut"));
}
