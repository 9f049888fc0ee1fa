using CsCheck;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Protocol.Tests.Provisioning;

public sealed class ProvisioningFcsTests
{
    // Mesh Protocol 1.1 §8.7.3 (Invite) and §8.7.4 (Capabilities); all other printed ones: ProvisioningVectorTests.
    [Theory]
    [InlineData("0000", 0x14)]
    [InlineData("010100010000000000000000", 0xD6)]
    public void SpecVector_GivesThePrintedFcs(string hex, byte fcs) => Assert.Equal(fcs, ProvisioningFcs.Compute(Convert.FromHexString(hex)));

    [Fact]
    public void EveryChangedBit_IsNoticed() => Gen.Select(Gen.Byte.Array[1, 65], Gen.Int[0, 519]).Sample((pdu, bit) =>
    {
        byte before = ProvisioningFcs.Compute(pdu);
        pdu[bit / 8 % pdu.Length] ^= (byte)(1 << bit % 8);
        Assert.NotEqual(before, ProvisioningFcs.Compute(pdu));
    });
}
