using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Screens.Octets;

/// <summary>Beacons, the provisioning bearer, and the fields of messages.</summary>
internal static partial class FrameAnnotation
{
    private const int MostFields = 200, DeepestField = 4;

    private static void Beacon(OctetLines lines, int? at, ReadOnlySpan<byte> octets)
    {
        const string layer = "beacon";
        if (SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon secure, out _))
        {
            Add(lines, layer, at, octets[..1], "Beacon Type", "Secure Network beacon");
            Add(lines, layer, at + 1, octets.Slice(1, 1), "Flags", $"key refresh {(secure.KeyRefresh ? "on" : "off")}, IV update {(secure.IvUpdate ? "on" : "off")}");
            Add(lines, layer, at + 2, octets.Slice(2, 8), "Network ID", secure.NetworkId.ToString("x16", CultureInfo.InvariantCulture));
            Add(lines, layer, at + 10, octets.Slice(10, 4), "IV Index", secure.IvIndex.ToString(CultureInfo.InvariantCulture));
            Add(lines, layer, at + 14, octets[14..], "Authentication", "checked with the network's beacon key");
        }
        else if (UnprovisionedDeviceBeacon.TryRead(octets, out UnprovisionedDeviceBeacon waiting, out _))
        {
            Add(lines, layer, at, octets[..1], "Beacon Type", "Unprovisioned Device beacon");
            Add(lines, layer, at + 1, octets.Slice(1, 16), "Device UUID", waiting.DeviceGuid.ToString());
            Add(lines, layer, at + 17, octets.Slice(17, 2), "OOB Information", $"0x{waiting.OobInformation:X4}");
            Add(lines, layer, at + 19, octets[19..], "URI Hash");
        }
        else if (PrivateBeacon.TryRead(octets, out PrivateBeacon hidden, out _))
        {
            Add(lines, layer, at, octets[..1], "Beacon Type", "Mesh Private beacon");
            Add(lines, layer, at + 1, hidden.Random, "Random");
            Add(lines, layer, at + 14, hidden.ObfuscatedPrivateBeaconData, "obfuscated", "Flags, IV Index");
            Add(lines, layer, at + 19, hidden.AuthenticationTag, "Authentication");
        }
        else
            Add(lines, layer, at, octets, "malformed", "no beacon has this form");
    }

    private static void Provisioning(OctetLines lines, int? at, ReadOnlySpan<byte> octets)
    {
        const string layer = "provisioning";
        if (!PbAdvPdu.TryRead(octets, out PbAdvPdu pdu, out _))
        {
            Add(lines, layer, at, octets, "malformed");
            return;
        }
        Add(lines, layer, at, octets[..4], "Link ID", $"0x{pdu.LinkId:X8}");
        Add(lines, layer, at + 4, octets.Slice(4, 1), "Transaction", $"{pdu.TransactionNumber}, by the {(pdu.TransactionNumber >= PbAdvPdu.FirstTransactionNumberOfDevice ? "device" : "provisioner")}");
        Add(lines, layer, at + 5, pdu.GenericProvisioningPdu[..1], "GPCF", GenericProvisioning.NameOf(pdu.GenericProvisioningPdu[0]));
        Add(lines, layer, at + 6, pdu.GenericProvisioningPdu[1..], "data");
    }

    private static void Fields(OctetLines lines, string layer, IReadOnlyList<DecodedField> fields, string indent)
    {
        foreach (DecodedField field in fields)
        {
            if (lines.All.Count > MostFields)
                return;
            lines.AddClear(layer, [], SafeText.Strip($"{indent}{field.Name}"), ValueOf(field));
            if (field.Kind == FieldKind.Group || (field.Kind == FieldKind.List && field.Children.Any(child => child.Kind == FieldKind.Group)))
            {
                if (indent.Length < DeepestField)
                    Fields(lines, layer, field.Children, indent + "·");
            }
        }
    }

    /// <summary>NetKey and AppKey in Config messages: sixteen octets under a name that ends so. A screen is seen by more eyes than a file.</summary>
    private static bool IsKey(DecodedField field) => field is { Kind: FieldKind.Octets, Octets.Length: 16 } && field.Name.EndsWith("Key", StringComparison.Ordinal);

    private static bool HoldsKey(DecodedField field) => IsKey(field) || field.Children.Any(HoldsKey);

    private static string ValueOf(DecodedField field)
    {
        if (IsKey(field))
            return "a key: not shown";
        string raw = field.Kind switch
        {
            FieldKind.Number => field.Unsigned.ToString(CultureInfo.InvariantCulture),
            FieldKind.Signed => field.Number.ToString(CultureInfo.InvariantCulture),
            FieldKind.Real => field.Real.ToString(CultureInfo.InvariantCulture),
            FieldKind.Text => SafeText.Strip(field.Text, 200),
            FieldKind.Octets => Convert.ToHexStringLower(field.Octets.Span),
            FieldKind.List when field.Children.All(child => child.Kind is FieldKind.Number or FieldKind.Signed) => string.Join(", ", field.Children.Select(child => child.Number)),
            _ => "",
        };
        return field.Reads is not { } reads || reads == raw ? raw : raw.Length == 0 ? SafeText.Strip(reads, 200) : $"{raw}: {SafeText.Strip(reads, 200)}";
    }
}
