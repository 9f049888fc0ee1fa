using BenchmarkDotNet.Running;
using MeshTrace.Benchmarks;
using MeshTrace.Benchmarks.Accuracy;
using MeshTrace.Benchmarks.Terminals;
using MeshTrace.Benchmarks.Whole;

// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- --filter '*Reading*'
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- screens 10000 1000000
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- terminal [--program FILE] [--size 140x40] [10000 1000000]
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- tables 10000000
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- whole [--worst] [--program FILE] [10000 100000 1000000 10000000]
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- stages 1000000
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- floors
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- compose DIR FRAMES
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- accuracy --networks 60 --seed 88001 --finding ttl-exhausted
if (args is ["accuracy", .. var options])
    return AccuracyCommand.Run(options);
if (args is ["stages", .. var loads])
    return StageShares.Run(loads);
if (args is ["floors"])
{
    DecryptionFloors.Tell();
    return 0;
}
if (args is ["compose", .. var plan])
    return LoadFile.Run(plan);
if (args is ["whole", .. var sizes])
    return WholeCommand.Run(sizes);
if (args is ["child", .. var measured])
    return ChildProcess.BeChild(measured);
if (args is ["screens", .. var captures])
    return ScreenLatency.Run(captures);
if (args is ["terminal", .. var onTerminal])
    return TerminalCommand.Run(onTerminal);
if (args is ["tables", .. var frames])
    return TableMemory.Run(frames);
BenchmarkSwitcher.FromAssembly(typeof(WholeAnalysis).Assembly).Run(args);
return 0;
