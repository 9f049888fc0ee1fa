namespace MeshTrace.Benchmarks.Accuracy;

internal static class FigureComparison
{
    public static string Make() => "";
}
