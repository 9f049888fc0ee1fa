using System.Globalization;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>A composed capture in a folder of its own, which goes when it is disposed.</summary>
internal sealed class LoadFile : IDisposable
{
    private readonly string _directory = Directory.CreateTempSubdirectory("load").FullName;

    public LoadFile(long frames)
        : this(new LoadPlan { Frames = frames })
    {
    }

    public LoadFile(LoadPlan plan)
    {
        Summary = LoadComposer.Compose(plan, _directory, "load");
        Description = File.ReadAllBytes(Network);
    }

    public LoadSummary Summary { get; }

    /// <summary>Path of the capture.</summary>
    public string Capture => Path.Combine(_directory, "load.pcapng");

    /// <summary>Path of the description.</summary>
    public string Network => Path.Combine(_directory, "load.network.json");

    /// <summary>Its octets.</summary>
    public byte[] Description { get; }

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    /// <summary>compose DIR FRAMES [COPIES [UNRELATED]]: a load capture that stays.</summary>
    public static int Run(string[] arguments)
    {
        var plan = new LoadPlan
        {
            Frames = long.Parse(arguments[1], CultureInfo.InvariantCulture),
            CopiesPerFlood = arguments.Length > 2 ? int.Parse(arguments[2], CultureInfo.InvariantCulture) : 8,
            UnrelatedShare = arguments.Length > 3 ? double.Parse(arguments[3], CultureInfo.InvariantCulture) : 0.7,
        };
        Console.WriteLine(LoadComposer.Compose(plan, arguments[0], "load"));
        return 0;
    }
}
