using System.IO.Compression;
using MeshTrace.Datasets;

namespace MeshTrace.Tests.Datasets;

/// <summary>Which files a survey takes for captures, and which description goes with each.</summary>
public sealed class CaptureFinderTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("finder-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void Captures_ByEndingAndByBeginning()
    {
        foreach (string name in (string[])["b.pcapng", "A.PCAP", "c.pcap.gz", "d.btsnoop", "e.snoop", "f.cap", "deep/er/g.pcapng"])
            Write(name);
        // First octets as the formats say: pcap in both byte orders and both resolutions, pcapng, BTSnoop.
        string[] begins = ["d4c3b2a102000400", "a1b2c3d400020004", "4d3cb2a102000400", "a1b23c4d00020004", "0a0d0d0a1c000000", "6274736e6f6f7000"];
        for (int i = 0; i < begins.Length; i++)
            Write($"x{i}.log", Convert.FromHexString(begins[i]));
        Write("readme.txt", "0a0d"u8.ToArray());
        Write("short.bin", [0xD4, 0xC3, 0xB2, 0xA1]);
        Write("packed.gz", Packed("text"u8.ToArray()));
        Write(".hidden.pcapng");
        Assert.Equal(["A.PCAP", "b.pcapng", "c.pcap.gz", "d.btsnoop", "deep/er/g.pcapng", "e.snoop", "f.cap", "x0.log", "x1.log", "x2.log", "x3.log", "x4.log", "x5.log"],
            CaptureFinder.Find(_folder, null).Select(capture => capture.Name));
    }

    [Fact]
    public void Description_BesideTheCaptureFirst_ThenTheFoldersOwn()
    {
        foreach (string name in (string[])["hall/one.pcap.gz", "hall/one.network.json", "hall/two.pcapng", "hall/network.json", "stairs/three.pcapng", "network.json", "four.pcapng"])
            Write(name);
        Assert.Equal([("four.pcapng", "network.json"), ("hall/one.pcap.gz", "one.network.json"), ("hall/two.pcapng", "network.json"), ("stairs/three.pcapng", null)],
            CaptureFinder.Find(_folder, null).Select(capture => (capture.Name, Path.GetFileName(capture.Description))));
        Assert.Equal(["four", "hall", "hall", "stairs"], CaptureFinder.Find(_folder, null).Select(capture => capture.Site));
    }

    [Fact]
    public void LinksToFolders_AreNotFollowed()
    {
        Write("site/one.pcapng");
        Directory.CreateSymbolicLink(Path.Combine(_folder, "site", "round"), _folder);
        Assert.Equal("site/one.pcapng", Assert.Single(CaptureFinder.Find(_folder, null)).Name);
    }

    [Fact]
    public void Dataset_IsLeftOut()
    {
        Write("one.pcapng");
        Write("data/set/two.pcapng");
        Assert.Equal("one.pcapng", Assert.Single(CaptureFinder.Find(_folder, Path.Combine(_folder, "data", "set"))).Name);
    }

    // Spelling as Hive's: '%' and two upper-case hexadecimal digits.
    [Theory]
    [InlineData("north/monday.pcapng", "north%2Fmonday.pcapng")]
    [InlineData("a b é 閲.pcap", "a b é 閲.pcap")]
    [InlineData("50%=x*?[1]{2}", "50%25%3Dx%2A%3F%5B1%5D%7B2%7D")]
    [InlineData("\e\n'\"", "%1B%0A%27%22")]
    public void Names_AreSpelledAsPartitions(string capture, string partition) => Assert.Equal(partition, PartitionName.Of(capture));

    [Fact]
    public void NameThatNoFolderTakes_IsKnown()
    {
        Assert.False(PartitionName.IsTooLong(new string('a', 240)));
        Assert.True(PartitionName.IsTooLong(new string('a', 241)));
        Assert.True(PartitionName.IsTooLong(new string('/', 81)));
        Assert.True(PartitionName.IsTooLong(new string('閲', 81)));
    }

    private void Write(string name, byte[]? octets = null)
    {
        string file = Path.Combine(_folder, name);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        File.WriteAllBytes(file, octets ?? []);
    }

    private static byte[] Packed(byte[] octets)
    {
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest))
            gzip.Write(octets);
        return packed.ToArray();
    }
}
