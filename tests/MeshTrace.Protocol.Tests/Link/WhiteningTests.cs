using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class WhiteningTests
{
    [Fact]
    public void EveryChannel_AgreesWithTheRegisterOfTheFigure()
    {
        for (int channel = 0; channel < LeChannel.Count; channel++)
        {
            byte[] octets = new byte[260];
            Whitening.Apply(octets, channel);
            Assert.Equal(RadioRegisters.Whitening(channel, octets.Length), octets);
        }
    }

    // The first octets of the sequence of channel 37: value from memory.
    [Fact]
    public void Channel37_BeginsAsKnown()
    {
        byte[] octets = new byte[8];
        Whitening.Apply(octets, 37);
        Assert.Equal("8dd257a13da766b0", Convert.ToHexStringLower(octets));
    }

    [Fact]
    public void Twice_GivesTheOctetsBack()
    {
        byte[] octets = [.. Enumerable.Range(0, 42).Select(i => (byte)i)];
        Whitening.Apply(octets, 38);
        Assert.NotEqual(2, octets[2]);
        Whitening.Apply(octets, 38);
        Assert.Equal(Enumerable.Range(0, 42).Select(i => (byte)i), octets);
    }
}
