using System.Diagnostics;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Benchmarks;

/// <summary>Measures what it costs to write all tables of a composed capture: time, and the most memory that the process ever had after each step.</summary>
internal static class TableMemory
{
    public static int Run(string[] arguments)
    {
        long frames = arguments.Length == 0 ? 1_000_000 : long.Parse(arguments[0], CultureInfo.InvariantCulture);
        string directory = Directory.CreateTempSubdirectory("tables").FullName;
        try
        {
            LoadComposer.Compose(new LoadPlan { Frames = frames }, directory, "load");
            Tell("composed", TimeSpan.Zero, 0);
            CaptureHistory history = Analysed(Directory.GetFiles(directory, "*.pcapng").Single(), File.ReadAllBytes(Directory.GetFiles(directory, "*.network.json").Single()));
            foreach (TableForm form in (TableForm[])[TableForm.Parquet, TableForm.Csv])
                Write(history, form, directory);
            GC.KeepAlive(history);
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }
        return 0;
    }

    private static CaptureHistory Analysed(string capture, byte[] description)
    {
        var watch = Stopwatch.StartNew();
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = NetworkDescriptionReader.Read(description, "load"), Cores = Environment.ProcessorCount });
        using IFrameSource source = CaptureFile.Open(capture);
        analysis.Read(source);
        CaptureHistory history = analysis.Complete();
        Tell("analysed", watch.Elapsed, 0);
        return history;
    }

    private static void Write(CaptureHistory history, TableForm form, string directory)
    {
        var tables = new TablesWriter(history, new RecordsSettings(), form);
        var watch = Stopwatch.StartNew();
        long octets = 0;
        foreach (RecordKind kind in tables.Kinds)
        {
            using var file = new FileStream(Path.Combine(directory, TablesWriter.FileName(kind, form)), FileMode.Create, FileAccess.ReadWrite);
            tables.Write(kind, file);
            octets += file.Length;
        }
        Tell(string.Create(CultureInfo.InvariantCulture, $"{tables.Total} records as {form}"), watch.Elapsed, octets);
    }

    private static void Tell(string step, TimeSpan time, long octets)
    {
        using var process = Process.GetCurrentProcess();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{step,-32} {time.TotalSeconds,7:F1} s {octets >> 20,7} MiB written; live {GC.GetTotalMemory(forceFullCollection: true) >> 20,5} MiB, now {process.WorkingSet64 >> 20,5} MiB, at most {process.PeakWorkingSet64 >> 20,5} MiB"));
    }
}
