using System.Diagnostics;
using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Files;
using MeshTrace.Screens;
using MeshTrace.Screens.Octets;
using MeshTrace.Screens.Reading;
using MeshTrace.Screens.Views;
using MeshTrace.Synthesis.Load;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;

namespace MeshTrace.Benchmarks;

/// <summary>
/// From a key to the drawn screen, on a terminal in memory, over a tour through all screens of a composed capture. What the
/// terminal itself takes comes on top.
/// </summary>
internal static class ScreenLatency
{
    private const int Rounds = 5;

    private static readonly Key[] Tour =
    [
        '1', Key.CursorDown, Key.End, Key.Home, 'n', '2', Key.CursorRight, '+', '0', Key.CursorDown, '3', 'a', Key.PageDown, Key.End, 'g', 'g', '4', Key.CursorDown, '5',
        '6', Key.CursorDown, '7', '?', '?', 'f', 'l', 'a', 'm', 'p', Key.Enter,
    ];

    public static int Run(string[] arguments)
    {
        Console.WriteLine("frames      read and complete   terminal   first tour: slowest   later tours: median   slowest");
        foreach (string frames in arguments.Length == 0 ? ["10000", "1000000"] : arguments)
            Measure(long.Parse(frames, CultureInfo.InvariantCulture));
        return 0;
    }

    private static void Measure(long frames)
    {
        string directory = Directory.CreateTempSubdirectory("screens").FullName;
        try
        {
            LoadComposer.Compose(new LoadPlan { Frames = frames }, directory, "load");
            var settings = new AnalysisSettings
            {
                Description = NetworkDescriptionReader.Read(File.ReadAllBytes(Path.Combine(directory, "load.network.json")), "load"), Cores = Environment.ProcessorCount,
            };
            var workspace = new Workspace();
            var watch = Stopwatch.StartNew();
            using (var reading = new BackgroundReading(CaptureFile.Open(Path.Combine(directory, "load.pcapng")), settings, vendor: null))
            {
                reading.Start(change => change(workspace));
                reading.Wait();
            }
            double read = watch.Elapsed.TotalMilliseconds;
            foreach ((int columns, int lines) in (ReadOnlySpan<(int, int)>)[(80, 24), (200, 50)])
            {
                (double first, double median, double slowest) = Walk(workspace, columns, lines);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{frames,-11} {read,14:F0} ms {columns,7} x {lines} {first,18:F0} ms {median,18:F1} ms {slowest,8:F0} ms"));
            }
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }
    }

    private static (double First, double Median, double Slowest) Walk(Workspace workspace, int columns, int lines)
    {
        using var output = new FrameOutput();
        var buffer = new OutputBufferImpl();
        buffer.SetSize(columns, lines);
        using var frames = new FrameStore(work => work(), work => work());
        var view = new BrowseView(new Browser(workspace, frames, new Outlets(_ => { }, (_, _) => "")), new Palette(colour: true));
        using var keys = new KeyDecoder(TimeProvider.System, view.Take, view.Take, view.Paste);
        double first = 0;
        var times = new List<double>();
        for (int round = 0; round < Rounds; round++)
        {
            foreach (Key key in Tour)
            {
                var watch = Stopwatch.StartNew();
                foreach (char octet in AnsiKeyboardEncoder.Encode(key))
                    keys.Letters.Enqueue(octet);
                keys.Decode();
                view.Draw(buffer);
                output.Write(buffer);
                double ms = watch.Elapsed.TotalMilliseconds;
                if (round == 0)
                    first = Math.Max(first, ms);
                else
                    times.Add(ms);
            }
        }
        times.Sort();
        return (first, times[times.Count / 2], times[^1]);
    }
}
