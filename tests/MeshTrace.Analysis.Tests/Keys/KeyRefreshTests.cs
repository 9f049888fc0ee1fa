using MeshTrace.Analysis.Keys;

namespace MeshTrace.Analysis.Tests.Keys;

/// <summary>The new key of a refresh (Mesh Protocol 1.1 §3.11.4) takes the place of the old one.</summary>
public class KeyRefreshTests
{
    [Fact]
    public void TheNewKey_HasTheNameAndTheIvIndexOfTheOldOne_AndAKeyOfAnotherIndexHasNot()
    {
        var keys = new KeyRing();
        Subnet old = keys.Subnets[keys.AddNetKey(Key(1), 0, KeyOrigin.Given, "House").Row];
        (old.IvIndex, old.IvIndexOrigin) = (1421, IvIndexOrigin.Beacon);
        Subnet refreshed = keys.Subnets[keys.AddNetKey(Key(2), 0, KeyOrigin.ConfigMessage).Row], other = keys.Subnets[keys.AddNetKey(Key(3), 1, KeyOrigin.Given).Row];
        Assert.Equal(("House", 1421u, IvIndexOrigin.Beacon), (refreshed.Name, refreshed.IvIndex, refreshed.IvIndexOrigin));
        Assert.Equal((null, null, IvIndexOrigin.Unknown), (other.Name, other.IvIndex, other.IvIndexOrigin));
    }

    private static byte[] Key(byte octet) => [.. Enumerable.Repeat(octet, 16)];
}
