namespace MeshTrace.Protocol.Bearer;

/// <summary>
/// AD type of an AD structure (Bluetooth Assigned Numbers, common data types; those of 0x2C, 0x2D, 0x2F-0x34 from memory). Other values
/// stay as
/// they are.
/// </summary>
public enum AdType : byte
{
    Flags = 0x01,
    IncompleteServiceUuids16 = 0x02,
    CompleteServiceUuids16 = 0x03,
    IncompleteServiceUuids32 = 0x04,
    CompleteServiceUuids32 = 0x05,
    IncompleteServiceUuids128 = 0x06,
    CompleteServiceUuids128 = 0x07,
    ShortenedLocalName = 0x08,
    CompleteLocalName = 0x09,
    TxPowerLevel = 0x0A,
    ClassOfDevice = 0x0D,
    SimplePairingHashC192 = 0x0E,
    SimplePairingRandomizerR192 = 0x0F,
    DeviceIdOrSecurityManagerTkValue = 0x10,
    SecurityManagerOutOfBandFlags = 0x11,
    PeripheralConnectionIntervalRange = 0x12,
    ServiceSolicitationUuids16 = 0x14,
    ServiceSolicitationUuids128 = 0x15,
    ServiceData16 = 0x16,
    PublicTargetAddress = 0x17,
    RandomTargetAddress = 0x18,
    Appearance = 0x19,
    AdvertisingInterval = 0x1A,
    LeBluetoothDeviceAddress = 0x1B,
    LeRole = 0x1C,
    SimplePairingHashC256 = 0x1D,
    SimplePairingRandomizerR256 = 0x1E,
    ServiceSolicitationUuids32 = 0x1F,
    ServiceData32 = 0x20,
    ServiceData128 = 0x21,
    LeSecureConnectionsConfirmationValue = 0x22,
    LeSecureConnectionsRandomValue = 0x23,
    Uri = 0x24,
    IndoorPositioning = 0x25,
    TransportDiscoveryData = 0x26,
    LeSupportedFeatures = 0x27,
    ChannelMapUpdateIndication = 0x28,

    /// <summary>A PB-ADV PDU: provisioning (Mesh Protocol 1.1 §5.2.1).</summary>
    PbAdv = 0x29,

    /// <summary>A Network PDU (Mesh Protocol 1.1 §3.3.1).</summary>
    MeshMessage = 0x2A,

    /// <summary>A mesh beacon, first octet its type (Mesh Protocol 1.1 §3.10).</summary>
    MeshBeacon = 0x2B,

    BigInfo = 0x2C,
    BroadcastCode = 0x2D,
    ResolvableSetIdentifier = 0x2E,
    AdvertisingIntervalLong = 0x2F,
    BroadcastName = 0x30,
    EncryptedAdvertisingData = 0x31,
    PeriodicAdvertisingResponseTimingInformation = 0x32,
    ElectronicShelfLabel = 0x34,
    ThreeDInformationData = 0x3D,
    ManufacturerSpecificData = 0xFF,
}

/// <summary>The published names of the AD types.</summary>
public static class AdTypeNames
{
    /// <summary>For example <c>Mesh Message</c>; <c>AD type 0x77</c> for a value without name.</summary>
    public static string Of(AdType type) => type switch
    {
        AdType.Flags => "Flags",
        AdType.IncompleteServiceUuids16 => "Incomplete List of 16-bit Service Class UUIDs",
        AdType.CompleteServiceUuids16 => "Complete List of 16-bit Service Class UUIDs",
        AdType.IncompleteServiceUuids32 => "Incomplete List of 32-bit Service Class UUIDs",
        AdType.CompleteServiceUuids32 => "Complete List of 32-bit Service Class UUIDs",
        AdType.IncompleteServiceUuids128 => "Incomplete List of 128-bit Service Class UUIDs",
        AdType.CompleteServiceUuids128 => "Complete List of 128-bit Service Class UUIDs",
        AdType.ShortenedLocalName => "Shortened Local Name",
        AdType.CompleteLocalName => "Complete Local Name",
        AdType.TxPowerLevel => "Tx Power Level",
        AdType.ClassOfDevice => "Class of Device",
        AdType.SimplePairingHashC192 => "Simple Pairing Hash C-192",
        AdType.SimplePairingRandomizerR192 => "Simple Pairing Randomizer R-192",
        AdType.DeviceIdOrSecurityManagerTkValue => "Device ID / Security Manager TK Value",
        AdType.SecurityManagerOutOfBandFlags => "Security Manager Out of Band Flags",
        AdType.PeripheralConnectionIntervalRange => "Peripheral Connection Interval Range",
        AdType.ServiceSolicitationUuids16 => "List of 16-bit Service Solicitation UUIDs",
        AdType.ServiceSolicitationUuids128 => "List of 128-bit Service Solicitation UUIDs",
        AdType.ServiceData16 => "Service Data - 16-bit UUID",
        AdType.PublicTargetAddress => "Public Target Address",
        AdType.RandomTargetAddress => "Random Target Address",
        AdType.Appearance => "Appearance",
        AdType.AdvertisingInterval => "Advertising Interval",
        AdType.LeBluetoothDeviceAddress => "LE Bluetooth Device Address",
        AdType.LeRole => "LE Role",
        AdType.SimplePairingHashC256 => "Simple Pairing Hash C-256",
        AdType.SimplePairingRandomizerR256 => "Simple Pairing Randomizer R-256",
        AdType.ServiceSolicitationUuids32 => "List of 32-bit Service Solicitation UUIDs",
        AdType.ServiceData32 => "Service Data - 32-bit UUID",
        AdType.ServiceData128 => "Service Data - 128-bit UUID",
        AdType.LeSecureConnectionsConfirmationValue => "LE Secure Connections Confirmation Value",
        AdType.LeSecureConnectionsRandomValue => "LE Secure Connections Random Value",
        AdType.Uri => "URI",
        AdType.IndoorPositioning => "Indoor Positioning",
        AdType.TransportDiscoveryData => "Transport Discovery Data",
        AdType.LeSupportedFeatures => "LE Supported Features",
        AdType.ChannelMapUpdateIndication => "Channel Map Update Indication",
        AdType.PbAdv => "PB-ADV",
        AdType.MeshMessage => "Mesh Message",
        AdType.MeshBeacon => "Mesh Beacon",
        AdType.BigInfo => "BIGInfo",
        AdType.BroadcastCode => "Broadcast_Code",
        AdType.ResolvableSetIdentifier => "Resolvable Set Identifier",
        AdType.AdvertisingIntervalLong => "Advertising Interval - long",
        AdType.BroadcastName => "Broadcast_Name",
        AdType.EncryptedAdvertisingData => "Encrypted Advertising Data",
        AdType.PeriodicAdvertisingResponseTimingInformation => "Periodic Advertising Response Timing Information",
        AdType.ElectronicShelfLabel => "Electronic Shelf Label",
        AdType.ThreeDInformationData => "3D Information Data",
        AdType.ManufacturerSpecificData => "Manufacturer Specific Data",
        _ => $"AD type 0x{(byte)type:X2}",
    };
}
