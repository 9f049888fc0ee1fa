using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>Several files as one source.</summary>
public sealed class CaptureMergeTests : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Fact]
    public void FramesOfAllFilesCome_EachFileInItsOrder_ReceiversNumberedOverAll()
    {
        string[] paths = [Written("a", 1), Written("b", 4), Written("c", 8), Written("d", 6)];
        using IFrameSource source = CaptureFile.OpenAll(paths);
        Assert.Equal(paths.Sum(path => new FileInfo(path).Length), source.Length);

        ReadCapture read = ReadCapture.Of(source);
        ReadCapture[] single = [.. paths.Select(path => ReadCapture.Of(File.ReadAllBytes(path)))];
        for (int file = 0; file < paths.Length; file++)
        {
            int[] own = [.. read.Receivers.Where(receiver => receiver.File == paths[file]).Select(receiver => receiver.Index)];
            Assert.Equal(single[file].Frames.Select(f => f.Octets), read.Frames.Where(f => own.Contains(f.Receiver)).Select(f => f.Octets));
            Assert.Equal(single[file].Receivers.Select(r => (r.LinkType, r.ReportedDropped)),
                read.Receivers.Where(receiver => receiver.File == paths[file]).Select(r => (r.LinkType, r.ReportedDropped)));
        }
        Assert.Equal(Enumerable.Range(0, single.Sum(s => s.Receivers.Count)), read.Receivers.Select(r => r.Index));
        Assert.All(read.Frames, f => Assert.Equal(read.Receivers[f.Receiver].LinkType.Number, f.LinkType));
        Assert.Equal(source.Length, source.Position);
        Assert.Null(source.Damage);
    }

    [Fact]
    public void FilesRecordedSideBySide_AreOneHistoryInTheOrderOfTime()
    {
        string[] paths = [Timed("left", 10, 30, 50), Timed("right", 20, 21, 60, 61), Timed("later", 55, 70)];
        using IFrameSource source = CaptureFile.OpenAll(paths);
        var read = new List<(long TimeNs, int Receiver, byte First)>();
        while (source.TryReadNext(out CapturedFrame frame))
            read.Add((frame.TimeNs, frame.Receiver, frame.Octets[0]));
        Assert.Equal([10, 20, 21, 30, 50, 55, 60, 61, 70], read.Select(frame => (int)frame.First));
        Assert.Equal([0, 1, 1, 0, 0, 2, 1, 1, 2], read.Select(frame => frame.Receiver));
    }

    [Fact]
    public void DamageInOneFile_DoesNotKeepTheNextFromBeingRead()
    {
        string[] paths = [Written("a", 0, cut: 1), Written("b", 1), Written("c", 2, cut: 1)];
        using IFrameSource source = CaptureFile.OpenAll(paths);
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal(9, read.Frames.Count);
        Assert.Equal(paths[0], source.Damage?.File);
        Assert.Equal([paths[0], paths[2]], Assert.IsType<CaptureMerge>(source).AllDamage.Select(d => d.File));
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

    /// <summary>A pcap file with a frame at each of these seconds; the frame's first octet is the second.</summary>
    private string Timed(string name, params byte[] seconds)
    {
        string path = Path.Combine(_directory, name);
        using var writer = new PcapWriter(File.Create(path), LinkType.LeLinkLayer);
        foreach (byte second in seconds)
            writer.Write(second * 1_000_000_000L, [second, 0, 0, 0]);
        return path;
    }

    private string Written(string name, int sample, int cut = 0)
    {
        string path = Path.Combine(_directory, name);
        File.WriteAllBytes(path, SampleCaptures.All[sample].Octets[..^cut]);
        return path;
    }
}
