using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Redaction;

/// <summary>The frames of a source with pseudonyms in them, in the same order; receivers and files have numbers in the place of names.</summary>
public sealed class RedactingSource : IFrameSource
{
    private readonly IFrameSource _source;
    private readonly CaptureRedaction _redaction;
    private byte[] _room = new byte[512];
    private int _row;

    internal RedactingSource(IFrameSource source, CaptureRedaction redaction) => (_source, _redaction) = (source, redaction);

    public IReadOnlyList<ReceiverDescription> Receivers => CaptureRedaction.Redact(_source.Receivers);
    public CaptureDamage? Damage => _source.Damage is { } damage ? Redact(damage) : null;
    public IReadOnlyList<CaptureDamage> AllDamage => [.. _source.AllDamage.Select(Redact)];
    public long Position => _source.Position;
    public long? Length => _source.Length;

    public bool TryReadNext(out CapturedFrame frame)
    {
        while (_source.TryReadNext(out frame))
        {
            if (_room.Length < frame.Octets.Length)
                _room = new byte[frame.Octets.Length * 2];
            if (!_redaction.TryRedact(_row++, in frame, _room))
                continue;
            frame = frame with { Octets = _room.AsSpan(0, frame.Octets.Length) };
            return true;
        }
        return false;
    }

    /// <summary>The source itself stays open.</summary>
    public void Dispose()
    {
    }

    private CaptureDamage Redact(CaptureDamage damage) =>
        damage with { File = CaptureRedaction.FileName(_source.Receivers, damage.File) };
}
