namespace MeshTrace.Survey.Tests.Support;

/// <summary>A folder of its own for one test: sites with captures, and a place for the dataset. Removed afterwards.</summary>
internal sealed class SitesFolder : IDisposable
{
    private readonly string _path = Directory.CreateTempSubdirectory("survey-").FullName;

    /// <summary>The folder with the sites.</summary>
    public string Sites => Path.Combine(_path, "sites");

    /// <summary>The dataset, which is not there yet.</summary>
    public string Dataset => Path.Combine(_path, "dataset");

    public SitesFolder() => Directory.CreateDirectory(Sites);

    /// <summary>Any other place.</summary>
    public string Place(string name) => Path.Combine(_path, name);

    /// <summary>Puts a demo capture there with its description beside it; gives the capture's place.</summary>
    public string Add(string name, string demo, bool described = true)
    {
        string capture = Path.Combine(Sites, name);
        Directory.CreateDirectory(Path.GetDirectoryName(capture)!);
        File.Copy(Repository.Demo(demo + ".pcapng"), capture);
        if (described)
            File.Copy(Repository.Demo(demo + ".network.json"), Path.ChangeExtension(capture, ".network.json"));
        return capture;
    }

    /// <summary>A file with any content.</summary>
    public string Write(string name, ReadOnlySpan<byte> octets)
    {
        string file = Path.Combine(Sites, name);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        File.WriteAllBytes(file, octets.ToArray());
        return file;
    }

    public void Dispose() => Directory.Delete(_path, recursive: true);
}
