using MeshTrace.Analysis.Keys;

namespace MeshTrace.Analysis.Tests.Keys;

/// <summary>The options --provisioning-key and --provisioning-oob.</summary>
public sealed class ProvisioningArgumentsTests
{
    // The device's private key of Mesh Protocol 1.1 §8.7: printed in the standard, no network's.
    private const string PrivateKey = "529aa0670d72cd6497502ed473502b037e8803b5c60829a5a3caa219505530ba";

    [Theory]
    [InlineData(PrivateKey)]
    [InlineData("0x" + PrivateKey)]
    [InlineData("@device.key")]
    public void APrivateKey_IsTypedOrStandsInAFile(string text)
    {
        KeyArguments keys = Read(KeyArgumentOption.ProvisioningKey, text);
        Assert.Equal(PrivateKey, Convert.ToHexStringLower(Assert.Single(keys.ProvisioningKeys).Span));
        Assert.False(keys.IsEmpty);
    }

    [Theory]
    [InlineData("12345", "00003039")]
    [InlineData("0", "00000000")]
    [InlineData("99999999", "05f5e0ff")]
    [InlineData("0x12345678", "12345678")]
    [InlineData("00112233445566778899aabbccddeeff", "00112233445566778899aabbccddeeff")]
    [InlineData("00112233445566778899001122334455", "00112233445566778899001122334455")]
    [InlineData("text:A1B2C3", "413142324333")]      // ASCII (Mesh Protocol 1.1 §5.4.2.4)
    [InlineData("text:12345678", "3132333435363738")]
    public void AnOutOfBandValue_IsANumberOrOctets(string text, string octets) =>
        Assert.Equal(octets, Convert.ToHexStringLower(Assert.Single(Read(KeyArgumentOption.ProvisioningOob, text).ProvisioningOobValues).Span));

    [Theory]
    [InlineData(KeyArgumentOption.ProvisioningKey, "529aa0670d72cd6497502ed473502b03")]
    [InlineData(KeyArgumentOption.ProvisioningKey, PrivateKey + "00")]
    [InlineData(KeyArgumentOption.ProvisioningOob, "abc")]
    [InlineData(KeyArgumentOption.ProvisioningOob, "0x")]
    [InlineData(KeyArgumentOption.ProvisioningOob, "text:A-B")]
    [InlineData(KeyArgumentOption.ProvisioningOob, "text:ABCDEFGHI")]
    [InlineData(KeyArgumentOption.ProvisioningOob, "text:AB CD")]
    [InlineData(KeyArgumentOption.ProvisioningOob, PrivateKey + "00")]
    public void AWrongForm_IsRefused_AndNotRepeated(KeyArgumentOption option, string text)
    {
        string message = Assert.Throws<KeyArgumentException>(() => Read(option, text)).Message;
        Assert.StartsWith(option.OptionName() + ":", message, StringComparison.Ordinal);
        Assert.DoesNotContain(text, message.Replace("0x and", "", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    private static KeyArguments Read(KeyArgumentOption option, string text) =>
        KeyArgumentsReader.Read([(option, text)], _ => null, name => name == "device.key" ? $"# of the boathouse lamp\n{PrivateKey}\n" : throw new FileNotFoundException());
}
