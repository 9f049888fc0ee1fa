using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class LeChannelTests
{
    // Bluetooth Core Specification, volume 6 part B §1.4.1: 37 at 2402 MHz, 0-10 at 2404-2424, 38 at 2426, 11-36 at 2428-2478, 39 at 2480.
    [Theory]
    [InlineData(37, 2402)]
    [InlineData(0, 2404)]
    [InlineData(10, 2424)]
    [InlineData(38, 2426)]
    [InlineData(11, 2428)]
    [InlineData(36, 2478)]
    [InlineData(39, 2480)]
    public void Index_StandsAtItsFrequency(int index, int megahertz)
    {
        int rf = (megahertz - 2402) / 2;
        Assert.Equal(rf, LeChannel.RfOfIndex(index));
        Assert.Equal(index, LeChannel.IndexOfRf(rf));
    }

    [Fact]
    public void EveryIndex_HasOneRfChannel()
    {
        for (int index = 0; index < LeChannel.Count; index++)
            Assert.Equal(index, LeChannel.IndexOfRf(LeChannel.RfOfIndex(index)!.Value));
        Assert.Null(LeChannel.RfOfIndex(40));
        Assert.Null(LeChannel.RfOfIndex(-1));
        Assert.Null(LeChannel.IndexOfRf(40));
        Assert.Null(LeChannel.IndexOfRf(-1));
    }
}
