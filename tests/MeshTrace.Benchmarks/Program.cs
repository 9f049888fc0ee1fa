using BenchmarkDotNet.Running;

// dotnet run -c Release --project tests/MeshTrace.Benchmarks -- --filter '*Reading*'
BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
