using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>Several files as one source.</summary>
public sealed class CaptureSequenceTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Fact]
    public void FilesAreReadInOrder_ReceiversNumberedOverAll()
    {
        string[] paths = [Written("a", 1), Written("b", 4), Written("c", 8), Written("d", 6)];
        using IFrameSource source = CaptureFile.OpenAll(paths);
        Assert.Equal(paths.Sum(path => new FileInfo(path).Length), source.Length);

        ReadCapture read = ReadCapture.Of(source);
        ReadCapture[] single = [.. paths.Select(path => ReadCapture.Of(File.ReadAllBytes(path)))];
        Assert.Equal(single.SelectMany(s => s.Frames.Select(f => f.Octets)), read.Frames.Select(f => f.Octets));
        Assert.Equal(Enumerable.Range(0, single.Sum(s => s.Receivers.Count)), read.Receivers.Select(r => r.Index));
        Assert.Equal(single.SelectMany((s, i) => s.Receivers.Select(r => (paths[i], r.LinkType, r.ReportedDropped))),
            read.Receivers.Select(r => (r.File, r.LinkType, r.ReportedDropped)));
        Assert.All(read.Frames, f => Assert.Equal(read.Receivers[f.Receiver].LinkType.Number, f.LinkType));
        Assert.Equal(source.Length, source.Position);
        Assert.Null(source.Damage);
    }

    [Fact]
    public void DamageInOneFile_DoesNotKeepTheNextFromBeingRead()
    {
        string[] paths = [Written("a", 0, cut: 1), Written("b", 1), Written("c", 2, cut: 1)];
        using IFrameSource source = CaptureFile.OpenAll(paths);
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal(9, read.Frames.Count);
        Assert.Equal(paths[0], source.Damage?.File);
        Assert.Equal([paths[0], paths[2]], Assert.IsType<CaptureSequence>(source).AllDamage.Select(d => d.File));
    }

    [Fact]
    public void OneThatCannotBeOpened_IsToldBeforeReading()
    {
        string missing = Path.Combine(_directory, "missing");
        Assert.Equal(missing, Assert.Throws<CaptureFormatException>(() => CaptureFile.OpenAll([Written("a", 0), missing])).File);
    }

    [Fact]
    public void OneFile_IsThatFile()
    {
        using IFrameSource source = CaptureFile.OpenAll([Written("a", 0)]);
        Assert.Equal(3, ReadCapture.Of(source).Frames.Count);
    }

    [Fact]
    public void NoFiles_GiveNothing()
    {
        using IFrameSource source = CaptureFile.OpenAll([]);
        Assert.False(source.TryReadNext(out _));
        Assert.Equal((0L, 0L), (source.Position, source.Length));
    }

    private string Written(string name, int sample, int cut = 0)
    {
        string path = Path.Combine(_directory, name);
        File.WriteAllBytes(path, SampleCaptures.All[sample].Octets[..^cut]);
        return path;
    }
}
