namespace MeshTrace.Benchmarks.Whole;

/// <summary>A straight line through measured points, by least squares of the relative distances, so that small captures count as much as large ones.</summary>
/// <param name="Fixed">What an empty capture would take.</param>
/// <param name="PerFrame">What each frame adds.</param>
/// <param name="WorstResidual">Greatest distance of a point from the line, as a share of the point.</param>
internal readonly record struct LinearFit(double Fixed, double PerFrame, double WorstResidual)
{
    public static LinearFit Of(IReadOnlyList<(double Frames, double Value)> points)
    {
        double weights = 0, x = 0, y = 0, xx = 0, xy = 0;
        foreach ((double frames, double value) in points)
        {
            double weight = 1 / (value * value);
            weights += weight;
            x += weight * frames;
            y += weight * value;
            xx += weight * frames * frames;
            xy += weight * frames * value;
        }
        double slope = ((weights * xy) - (x * y)) / ((weights * xx) - (x * x)), zero = (y - (slope * x)) / weights;
        return new LinearFit(zero, slope, points.Max(point => Math.Abs(zero + (slope * point.Frames) - point.Value) / point.Value));
    }
}
