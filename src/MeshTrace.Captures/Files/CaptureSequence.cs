using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>Several capture files, read one after the other. Damage in one does not keep the next from being read.</summary>
public sealed class CaptureSequence : IFrameSource
{
    private readonly IReadOnlyList<CaptureFileSource> _files;
    private readonly List<ReceiverDescription> _receivers = [];
    private readonly List<CaptureDamage> _damage = [];
    private int _current = -1;
    private long _positionBefore;       // octets of the files that are finished

    internal CaptureSequence(IReadOnlyList<CaptureFileSource> files)
    {
        _files = files;
        long? length = 0;
        foreach (CaptureFileSource file in files)
            length += file.Length;
        Length = length;
        MoveToNextFile();
    }

    public IReadOnlyList<ReceiverDescription> Receivers => _receivers;

    /// <summary>The damage of the first damaged file; <see cref="AllDamage"/> has those of the others.</summary>
    public CaptureDamage? Damage => _damage.Count > 0 ? _damage[0] : null;

    /// <summary>Damage found so far, at most one a file.</summary>
    public IReadOnlyList<CaptureDamage> AllDamage => _damage;

    public long Position => _positionBefore + (_current < _files.Count ? _files[_current].Position : 0);

    public long? Length { get; }

    public bool TryReadNext(out CapturedFrame frame)
    {
        while (_current < _files.Count)
        {
            CaptureFileSource file = _files[_current];
            if (file.TryReadNext(out frame))
                return true;
            if (file.Damage is { } damage)
                _damage.Add(damage);
            _positionBefore += file.Position;
            file.Dispose();
            MoveToNextFile();
        }

        frame = default;
        return false;
    }

    public void Dispose()
    {
        foreach (CaptureFileSource file in _files)
            file.Dispose();
    }

    private void MoveToNextFile()
    {
        _current++;
        if (_current < _files.Count)
            _files[_current].Join(_receivers);
    }
}
