using System.Globalization;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules;

/// <summary>How the sentences of findings name things.</summary>
internal static class Wording
{
    private const double NsPerSecond = 1e9;

    /// <summary>"stairs lamp (0x0007)", or the address alone where nobody named it.</summary>
    public static string Called(this CaptureHistory history, MeshAddress address) =>
        history.Directory.NameOf(address) is { } name ? $"{name} ({address})" : address.ToString();

    /// <summary>A time span in its usual unit.</summary>
    public static string Span(double seconds) => seconds switch
    {
        < 1 => string.Create(CultureInfo.InvariantCulture, $"{seconds * 1000:0} ms"),
        < 120 => string.Create(CultureInfo.InvariantCulture, $"{seconds:0.#} s"),
        < 7_200 => string.Create(CultureInfo.InvariantCulture, $"{seconds / 60:0} min"),
        < 172_800 => string.Create(CultureInfo.InvariantCulture, $"{seconds / 3_600:0.#} h"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{seconds / 86_400:0} days"),
    };

    /// <summary>From one time to another; far beyond any capture where one of them is not known.</summary>
    public static double Seconds(long fromNs, long toNs) => ((double)toNs - fromNs) / NsPerSecond;

    /// <summary>"once", "twice", "7 times".</summary>
    public static string Times(int count) => count switch
    {
        1 => "once",
        2 => "twice",
        _ => string.Create(CultureInfo.InvariantCulture, $"{count} times"),
    };

    /// <summary>A share as a whole percentage; "under 1 %" rather than 0.</summary>
    public static string Percent(double share) => share is > 0 and < 0.01 ? "under 1 %" : string.Create(CultureInfo.InvariantCulture, $"{share * 100:0} %");

    /// <summary>A large number with its thousands apart.</summary>
    public static string Number(long number) => number.ToString("#,0", CultureInfo.InvariantCulture);
}
