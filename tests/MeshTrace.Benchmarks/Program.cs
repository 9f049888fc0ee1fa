using BenchmarkDotNet.Running;
using MeshTrace.Benchmarks;

// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- --filter '*Reading*'
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- screens 10000 1000000
// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- whole 10000 100000 1000000
if (args is ["whole", .. var sizes])
    return WholeAnalysis.Run(sizes);
if (args is ["screens", .. var captures])
    return ScreenLatency.Run(captures);
BenchmarkSwitcher.FromAssembly(typeof(WholeAnalysis).Assembly).Run(args);
return 0;
