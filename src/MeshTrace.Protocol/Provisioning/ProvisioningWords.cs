using System.Globalization;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>The standard's words for the codes of provisioning (Mesh Protocol 1.1 §5.3, §5.4 and §3.10.2).</summary>
public static class ProvisioningWords
{
    private static readonly string[] AlgorithmNames = ["BTM_ECDH_P256_CMAC_AES128_AES_CCM", "BTM_ECDH_P256_HMAC_SHA256_AES_CCM"];
    private static readonly string[] OutputActionNames = ["Blink", "Beep", "Vibrate", "Output Numeric", "Output Alphanumeric"];
    private static readonly string[] InputActionNames = ["Push", "Twist", "Input Number", "Input Alphanumeric"];
    private static readonly string[] PublicKeyTypeNames = ["Public Key OOB information available"];
    private static readonly string[] OobTypeNames = ["Static OOB information available", "Only OOB authenticated provisioning supported"];
    private static readonly string[] FlagNames = ["Key Refresh", "IV Update"];

    private static readonly string[] ErrorNames =
    [
        "Prohibited", "Invalid PDU", "Invalid Format", "Unexpected PDU", "Confirmation Failed", "Out of Resources", "Decryption Failed",
        "Unexpected Error", "Cannot Assign Addresses", "Invalid Data",
    ];

    private static readonly string[] OobInformationNames =
    [
        "Other", "Electronic / URI", "2D machine-readable code", "Bar code", "Near Field Communication (NFC)", "Number", "String",
        "Support for certificate-based provisioning", "Support for provisioning records", "", "", "On box", "Inside box", "On piece of paper",
        "Inside manual", "On device",
    ];

    public static string Of(ProvisioningError error) => Name(ErrorNames, (int)error);

    public static string Of(LinkCloseReason reason) => Name(["Success", "Timeout", "Fail"], (int)reason);

    public static string Of(ProvisioningAlgorithm algorithm) => Name(AlgorithmNames, (int)algorithm);

    public static string Of(PublicKeyUse use) => Name(["No OOB Public Key is used", "OOB Public Key is used"], (int)use);

    public static string Of(AuthenticationMethod method) => Name(["No OOB", "Static OOB", "Output OOB", "Input OOB"], (int)method);

    public static string Of(OutputOobAction action) => Name(OutputActionNames, (int)action);

    public static string Of(InputOobAction action) => Name(InputActionNames, (int)action);

    public static string Of(RecordResponseStatus status) =>
        Name(["Success", "Requested Record Is Not Present", "Requested Offset Is Out Of Bounds"], (int)status);

    /// <summary>The bits that are set, lowest first, with commas between; <c>none</c> if none is.</summary>
    public static string Of(OobInformation information) => Bits(OobInformationNames, (int)information);

    /// <summary>The name of a record identifier (Mesh Protocol 1.1 §5.4.2, from memory), or null where the number says all.</summary>
    public static string? OfRecord(ushort recordId) => recordId switch
    {
        0x0000 => "Certificate-Based Provisioning Base URI",
        0x0001 => "Device Certificate",
        >= 0x0002 and <= 0x0010 => string.Create(CultureInfo.InvariantCulture, $"Intermediate Certificate {recordId - 1}"),
        _ => null,
    };

    /// <summary>Algorithms of Capabilities, a bit each.</summary>
    public static string OfAlgorithms(ushort bits) => Bits(AlgorithmNames, bits);

    /// <summary>Output OOB Action of Capabilities, a bit each.</summary>
    public static string OfOutputOobActions(ushort bits) => Bits(OutputActionNames, bits);

    /// <summary>Input OOB Action of Capabilities, a bit each.</summary>
    public static string OfInputOobActions(ushort bits) => Bits(InputActionNames, bits);

    /// <summary>Public Key Type of Capabilities, a bit each.</summary>
    public static string OfPublicKeyType(byte bits) => Bits(PublicKeyTypeNames, bits);

    /// <summary>OOB Type of Capabilities, a bit each; bit 1 came with version 1.1.</summary>
    public static string OfOobType(byte bits) => Bits(OobTypeNames, bits);

    /// <summary>Flags of the provisioning data, a bit each.</summary>
    public static string OfFlags(byte bits) => Bits(FlagNames, bits);

    private static string Name(ReadOnlySpan<string> names, int value) =>
        value < names.Length ? names[value] : string.Create(CultureInfo.InvariantCulture, $"reserved (0x{value:X2})");

    private static string Bits(ReadOnlySpan<string> names, int bits)
    {
        if (bits == 0)
            return "none";
        var words = new List<string>();
        for (int bit = 0; bit < 16; bit++)
        {
            if ((bits >> bit & 1) == 0)
                continue;
            words.Add(bit < names.Length && names[bit].Length != 0
                ? names[bit]
                : string.Create(CultureInfo.InvariantCulture, $"reserved bit {bit}"));
        }
        return string.Join(", ", words);
    }
}
