namespace MeshTrace.EndToEnd.Tests.Runs;

/// <summary>A folder of its own for one test, removed afterwards.</summary>
internal sealed class TemporaryFolder : IDisposable
{
    private readonly string _path = Directory.CreateTempSubdirectory("meshtrace-").FullName;

    public string File(string name) => Path.Combine(_path, name);

    public string Write(string name, ReadOnlySpan<byte> octets)
    {
        using FileStream file = System.IO.File.Create(File(name));
        file.Write(octets);
        return file.Name;
    }

    public string Write(string name, string text) => Write(name, System.Text.Encoding.UTF8.GetBytes(text));

    public void Dispose() => Directory.Delete(_path, recursive: true);
}
