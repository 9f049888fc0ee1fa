using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Keys;

/// <summary>Reads single values and keeps each once.</summary>
internal sealed class KeyArgumentValues
{
    private const string AlphanumericPrefix = "text:";

    private readonly List<TypedKey> _netKeys = [];
    private readonly List<TypedKey> _appKeys = [];
    private readonly List<TypedDeviceKey> _deviceKeys = [];
    private readonly List<Guid> _labels = [];
    private readonly List<uint> _ivIndexes = [];
    private readonly List<ReadOnlyMemory<byte>> _provisioningKeys = [];
    private readonly List<ReadOnlyMemory<byte>> _provisioningOob = [];
    private readonly HashSet<(KeyArgumentOption, object)> _seen = [];

    public KeyArguments ToArguments() => new()
    {
        NetKeys = [.. _netKeys],
        AppKeys = [.. _appKeys],
        DeviceKeys = [.. _deviceKeys],
        Labels = [.. _labels],
        IvIndexes = [.. _ivIndexes],
        ProvisioningKeys = [.. _provisioningKeys],
        ProvisioningOobValues = [.. _provisioningOob],
    };

    /// <exception cref="KeyArgumentException">The value has not the form of the option.</exception>
    public void Add(KeyArgumentOption option, string value, string place)
    {
        if (value.Length == 0)
            throw new KeyArgumentException(place, $"a value is needed: {option.Form()}");
        switch (option)
        {
            case KeyArgumentOption.NetKey:
                Keep(option, _netKeys, ReadKey(value, place));
                break;
            case KeyArgumentOption.AppKey:
                Keep(option, _appKeys, ReadKey(value, place));
                break;
            case KeyArgumentOption.DeviceKey:
                Keep(option, _deviceKeys, ReadDeviceKey(value, place));
                break;
            case KeyArgumentOption.Label:
                Keep(option, _labels, ReadLabel(value, place));
                break;
            case KeyArgumentOption.IvIndex:
                Keep(option, _ivIndexes, ReadIvIndex(value, place));
                break;
            case KeyArgumentOption.ProvisioningKey:
                _provisioningKeys.Add(ReadPrivateKey(value, place));
                break;
            case KeyArgumentOption.ProvisioningOob:
                _provisioningOob.Add(ReadOob(value, place));
                break;
            default:
                throw new ArgumentOutOfRangeException(nameof(option));
        }
    }

    private void Keep<T>(KeyArgumentOption option, List<T> list, T value)
        where T : notnull
    {
        if (_seen.Add((option, value)))
            list.Add(value);
    }

    private static TypedKey ReadKey(string value, string place)
    {
        int sign = value.IndexOf('=', StringComparison.Ordinal);
        if (sign < 0)
            return new TypedKey(null, ReadOctets(value, place));
        return TryReadNumber(value.AsSpan(0, sign), out uint index) && index <= DescriptionLimits.HighestKeyIndex
            ? new TypedKey((int)index, ReadOctets(value.AsSpan(sign + 1), place))
            : throw new KeyArgumentException(place, $"the index before = must be a whole number 0..{DescriptionLimits.HighestKeyIndex}");
    }

    private static TypedDeviceKey ReadDeviceKey(string value, string place)
    {
        int sign = value.IndexOf('=', StringComparison.Ordinal);
        if (sign < 0)
            throw new KeyArgumentException(place, "the address of the node is missing, ADDRESS=HEX needed");
        if (!MeshAddress.TryParse(value.AsSpan(0, sign), out MeshAddress node) || !node.IsUnicast)
            throw new KeyArgumentException(place, "the address before = must be a unicast address, 0001..7FFF");
        return new TypedDeviceKey(node, ReadOctets(value.AsSpan(sign + 1), place));
    }

    /// <summary>32 hex digits; a leading 0x, and spaces, colons or dashes between octets, are what people paste.</summary>
    private static KeyOctets ReadOctets(ReadOnlySpan<char> text, string place)
    {
        string digits = Digits(text);
        return KeyOctets.TryParse(digits, out KeyOctets? key) ? key : throw new KeyArgumentException(place, HexText.Complaint(digits, "32"));
    }

    private static Guid ReadLabel(string value, string place)
    {
        string digits = Digits(value);
        return Guid.TryParseExact(digits, "N", out Guid label)
            ? label
            : throw new KeyArgumentException(place, HexText.Complaint(digits, "32"));
    }

    private static uint ReadIvIndex(string value, string place) => TryReadNumber(value, out uint ivIndex)
        ? ivIndex
        : throw new KeyArgumentException(place, "a whole number 0..4294967295 needed, in decimal or as 0x and hex digits");

    /// <summary>A private key of P-256: 64 hex digits.</summary>
    private static byte[] ReadPrivateKey(string value, string place)
    {
        string digits = Digits(value);
        byte[] octets = new byte[EllipticCurve.PrivateKeyLength];
        return digits.Length == 2 * octets.Length && HexText.TryRead(digits, octets) ? octets : throw new KeyArgumentException(place, HexText.Complaint(digits, "64"));
    }

    /// <summary>
    /// A number as it was shown or typed, big-endian in as many octets as it needs (Mesh Protocol 1.1 §5.4.2.4); or, with <c>0x</c> or with digits a number
    /// has not, octets of a static value, at most 32; or, after <c>text:</c>, letters and digits as they were shown or typed (ASCII, §5.4.2.4).
    /// </summary>
    private static byte[] ReadOob(string value, string place)
    {
        if (value.AsSpan().TrimStart().StartsWith(AlphanumericPrefix, StringComparison.Ordinal))
            return ReadAlphanumeric(value.Trim()[AlphanumericPrefix.Length..], place);
        if (uint.TryParse(value.Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out uint number))
        {
            Span<byte> octets = stackalloc byte[4];
            BinaryPrimitives.WriteUInt32BigEndian(octets, number);
            return octets.ToArray();
        }
        string digits = Digits(value);
        byte[] given = new byte[digits.Length / 2];
        return digits.Length is > 0 and <= 64 && digits.Length % 2 == 0 && HexText.TryRead(digits, given)
            ? given
            : throw new KeyArgumentException(place, "a whole number, an even number of hex digits up to 64, or text: and 1 to 8 letters and digits, needed");
    }

    /// <summary>Alphanumeric values have 1 to 8 characters (Mesh Protocol 1.1 §5.4.1.3, Output OOB Size and Input OOB Size), capitals and digits.</summary>
    private static byte[] ReadAlphanumeric(string text, string place)
    {
        const int mostCharacters = 8;
        return text.Length is > 0 and <= mostCharacters && text.All(char.IsAsciiLetterOrDigit)
            ? Encoding.ASCII.GetBytes(text)
            : throw new KeyArgumentException(place, "1 to 8 letters and digits needed after text:");
    }

    private static string Digits(ReadOnlySpan<char> text)
    {
        text = text.Trim();
        if (text.StartsWith("0x", StringComparison.OrdinalIgnoreCase))
            text = text[2..];
        Span<char> digits = text.Length <= 128 ? stackalloc char[text.Length] : new char[text.Length];
        int count = 0;
        foreach (char c in text)
        {
            if (c is not (' ' or ':' or '-'))
                digits[count++] = c;
        }
        return digits[..count].ToString();
    }

    private static bool TryReadNumber(ReadOnlySpan<char> text, out uint number)
    {
        text = text.Trim();
        return text.StartsWith("0x", StringComparison.OrdinalIgnoreCase)
            ? uint.TryParse(text[2..], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out number)
            : uint.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out number);
    }
}
