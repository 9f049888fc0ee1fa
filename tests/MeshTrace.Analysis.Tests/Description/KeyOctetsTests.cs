using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Tests.Description;

public sealed class KeyOctetsTests
{
    private const string Hex = "1E5AB60C77D2493F8811C0DE4B6A9F23";

    [Fact]
    public void Octets_StandInTheOrderWritten()
    {
        Assert.True(KeyOctets.TryParse(Hex.ToLowerInvariant(), out KeyOctets? key));
        Assert.Equal(Hex, Convert.ToHexString(key.Octets));
    }

    [Theory]
    [InlineData("")]
    [InlineData("1E5AB60C77D2493F8811C0DE4B6A9F2")]
    [InlineData("1E5AB60C77D2493F8811C0DE4B6A9F233")]
    [InlineData("1E5AB60C77D2493F8811C0DE4B6A9F2G")]
    [InlineData(" 1E5AB60C77D2493F8811C0DE4B6A9F2")]
    public void OtherText_IsNoKey(string text)
    {
        Assert.False(KeyOctets.TryParse(text, out KeyOctets? key));
        Assert.Null(key);
    }

    [Fact]
    public void OtherLength_IsTheCallersMistake() => Assert.Throws<ArgumentException>(() => new KeyOctets(new byte[15]));

    [Fact]
    public void Equality_IsByOctets()
    {
        KeyOctets one = new(Convert.FromHexString(Hex));
        Assert.Equal(one, new KeyOctets(Convert.FromHexString(Hex)));
        Assert.Equal(one.GetHashCode(), new KeyOctets(Convert.FromHexString(Hex)).GetHashCode());
        Assert.NotEqual(one, new KeyOctets(new byte[16]));
        Assert.True(new KeyOctets(new byte[16]).IsAllZero);
        Assert.False(one.IsAllZero);
    }

    [Fact]
    public void ToString_ShowsNothing()
    {
        KeyOctets key = new(Convert.FromHexString(Hex));
        Assert.Equal(new KeyOctets(new byte[16]).ToString(), key.ToString());
    }
}
