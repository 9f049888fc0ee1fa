namespace MeshTrace.Captures.Tests.Files;

/// <summary>Octets written by hand, blanks between fields.</summary>
internal static class Hex
{
    public static byte[] Octets(string hex) => Convert.FromHexString(hex.Replace(" ", "", StringComparison.Ordinal));
}
