namespace MeshTrace.Synthesis.Radio;

/// <summary>
/// Received strength from distance and walls: log-distance path loss. The numbers are common practice, no source; they shape invented
/// buildings, nothing more. All arithmetic is plain IEEE addition, multiplication and division, so every machine gets the same decibels.
/// </summary>
internal static class PathLoss
{
    /// <summary>Loss over the first metre at 2.4 GHz, in dB.</summary>
    internal const double FirstMetreDb = 40;

    /// <summary>Below one antenna's distance the model says nothing.</summary>
    internal const double ShortestMetres = 0.5;

    /// <summary>10 log10 of the distance times the exponent, plus the first metre.</summary>
    internal static double LossDb(double metres, double exponent) =>
        FirstMetreDb + (10 * exponent * Log10(Math.Max(metres, ShortestMetres)));

    /// <summary>Decadic logarithm of a positive number, the same on every machine (Math.Log10 may differ in the last bit).</summary>
    internal static double Log10(double value)
    {
        long bits = BitConverter.DoubleToInt64Bits(value);
        int exponent = (int)((bits >> 52) & 0x7FF) - 1023;
        double mantissa = BitConverter.Int64BitsToDouble((bits & 0x000FFFFFFFFFFFFF) | 0x3FF0000000000000);
        double z = (mantissa - 1) / (mantissa + 1), square = z * z, term = z, sum = 0;   // ln m = 2 artanh z
        for (int n = 1; n <= 41; n += 2, term *= square)
            sum += term / n;
        return ((2 * sum) + (exponent * 0.6931471805599453)) / 2.302585092994046;
    }

    /// <summary>True if the line between two places crosses the wall.</summary>
    internal static bool Crosses(Place a, Place b, Place wallFrom, Place wallTo)
    {
        double side1 = Side(a, b, wallFrom), side2 = Side(a, b, wallTo), side3 = Side(wallFrom, wallTo, a),
            side4 = Side(wallFrom, wallTo, b);
        return side1 * side2 < 0 && side3 * side4 < 0;
    }

    private static double Side(Place a, Place b, Place c) => ((b.X - a.X) * (c.Y - a.Y)) - ((b.Y - a.Y) * (c.X - a.X));
}

/// <summary>A place on the plan, in metres.</summary>
public readonly record struct Place(double X, double Y)
{
    /// <summary>Distance in metres (square root is exact to the last bit on every machine).</summary>
    public double To(Place other)
    {
        double dx = X - other.X, dy = Y - other.Y;
        return Math.Sqrt((dx * dx) + (dy * dy));
    }
}
